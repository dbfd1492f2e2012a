"""Takings, receipts and tickets added three ways agree to the cent, whatever was paid, credited and paid back.

Tax beside it is reckoned with whole numbers from the rule of EN 16931 (BR-CO-17: on the sum of each rate, rounded
once), apart from the decimals of the code.
"""

from __future__ import annotations

import csv
import io
import math
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import pytest
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.factories import PartLineFactory, ShopFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.charges.discounts import give_discount
from workshop.charges.models import TaxRules
from workshop.models import Payment, Receipt, Shop, Ticket
from workshop.tickets.models import PartLine
from workshop.till.books import rates_csv, receipts_csv
from workshop.till.standing import money_of, open_sums
from workshop.till.taking import take_payment
from workshop.till.takings import takings_of
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db
CENTS = st.integers(0, 99_999).map(lambda cents: Decimal(cents) / 100)
SHARE = st.integers(0, 100)


@dataclass(frozen=True)
class Sold:
    """A ticket as it is sold: labour, parts, what is taken off, shares of it paid before and by card, and its end."""

    labour: Decimal
    parts: Sequence[Decimal]
    off: int
    before: int
    by_card: int
    rest: str
    opened_again: bool


SOLD = st.builds(
    Sold,
    labour=CENTS,
    parts=st.lists(CENTS, max_size=3),
    off=st.sampled_from([0, 0, 10, 33, 100]),
    before=st.sampled_from([0, 0, 25, 100]),
    by_card=SHARE,
    rest=st.sampled_from(["cash", "account"]),
    opened_again=st.booleans(),
)


def share_of(amount: Decimal, percent: int) -> Decimal:
    return (amount * percent / 100).quantize(Decimal("0.01"))


def sell(shop: Shop, sold: Sold) -> Ticket:
    ticket = ready_ticket(sold.labour, shop=shop)
    for price in sold.parts:
        PartLineFactory(ticket=ticket, unit_price=price, quantity=1, status=PartLine.Status.USED)
    if off := share_of(sold.labour, sold.off):
        give_discount(ticket=ticket, off="labour", amount=off, reason="Waited long", by=None)
    gross = Decimal(gross_of(shop, sold)) / 100
    if before := share_of(gross, sold.before):
        take_payment(ticket=ticket, part=part("transfer", before), client_id=uuid.uuid4(), by=None)
    card = share_of(gross - before, sold.by_card)
    rest = gross - before - card
    parts = [part(kind, amount) for kind, amount in (("card", card), ("cash", rest)) if amount]
    if sold.rest == "account":
        parts = [one for one in parts if one.kind == "card"]
    hand_it_over(ticket, *parts, on_account=sold.rest == "account")
    if sold.opened_again:
        open_again(ticket=ticket, reason="Looked at again", by=None, seen_version=ticket.version)
        hand_it_over(ticket, on_account=True)
    return ticket


def cents(amount: Decimal) -> int:
    return int(amount * 100)


def half_up(exact: Fraction) -> int:
    return math.floor(exact + Fraction(1, 2))


def nets(sold: Sold) -> tuple[int, int]:
    """Labour less what is taken off, and parts, in cents."""
    return cents(sold.labour) - cents(share_of(sold.labour, sold.off)), sum(map(cents, sold.parts))


def gross_of(shop: Shop, sold: Sold) -> int:
    """With tax, in cents, by whole numbers alone."""
    rules = TaxRules.objects.get(shop=shop)
    sums: dict[Fraction, int] = {}
    for net, percent in zip(nets(sold), (rules.labour_percent, rules.parts_percent), strict=True):
        sums[Fraction(percent)] = sums.get(Fraction(percent), 0) + net
    return sum(net + half_up(Fraction(net) * percent / 100) for percent, net in sums.items())


@settings(
    max_examples=12,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],  # smaller failing shops take minutes to find
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(tickets=st.lists(SOLD, min_size=1, max_size=4), rates=st.sampled_from([("19", "7"), ("20", "20"), ("5.5", "0")]))
def test_takings_receipts_and_tickets_agree_to_the_cent(db: None, tickets: list[Sold], rates: tuple[str, str]) -> None:
    shop = ShopFactory()
    TaxRules.objects.create(shop=shop, labour_percent=Decimal(rates[0]), parts_percent=Decimal(rates[1]))
    made = [sell(shop, sold) for sold in tickets]
    charged = Decimal(sum(gross_of(shop, sold) for sold in tickets)) / 100

    day = takings_of(shop, timezone.localdate())
    still_open = sum((one.amount for one in open_sums(shop)), Decimal(0))
    # One way: the tickets, as they are charged. Another: the receipts less the credit notes. The third: the money.
    assert sum((ticket.final_charges.gross for ticket in fresh(made)), Decimal(0)) == charged
    assert day.receipted == charged
    assert day.money + still_open == charged
    assert sum((row.sum for row in day.kinds), Decimal(0)) == day.money == sum(map(money_of, made), Decimal(0))
    assert [one.final_charges.gross for one in fresh(made)] == [Decimal(gross_of(shop, sold)) / 100 for sold in tickets]

    month = timezone.localdate()
    for sheet in (receipts_csv(shop, month), rates_csv(shop, month)):
        rows = list(csv.DictReader(io.StringIO(sheet.decode("utf-8-sig"))))
        assert sum((Decimal(row["gross"]) for row in rows), Decimal(0)) == charged
        assert all(Decimal(row["net"]) + Decimal(row["tax"]) == Decimal(row["gross"]) for row in rows)
    numbers = Receipt.objects.filter(shop=shop, kind="receipt").order_by("pk").values_list("number", flat=True)
    assert list(numbers) == list(range(1, len(numbers) + 1))
    assert not Payment.objects.filter(shop=shop).exclude(currency="EUR").exists()


def fresh(tickets: list[Ticket]) -> list[Ticket]:
    return [Ticket.objects.select_related("final_charges").get(pk=ticket.pk) for ticket in tickets]
