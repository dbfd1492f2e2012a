"""Lines that a warranty bears: named on every paper, owed by nobody, and no turnover."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import PartFactory, PartLineFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from tests.logbook import said
from workshop.charges.books import charges_csv
from workshop.charges.discounts import give_discount
from workshop.charges.labour import charge_price
from workshop.charges.ticket_charges import charges_of, standing_charges
from workshop.charges.warranty import bear
from workshop.models import FinalCharges, LabourLine, PartLine, Receipt, TaxRules, Ticket
from workshop.office.figures.period import Period
from workshop.office.figures.sources import charges_of_period
from workshop.till.crediting import creditable
from workshop.work.part_prices import unpriced_lines

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket(client: Client) -> Ticket:
    """Ready, with 80.00 of labour, 2 wipers of 11.50, and a bushing that nobody priced."""
    made = ready_ticket("80.00")
    TaxRules.objects.create(shop=made.shop, labour_percent=20, parts_percent=20)
    wiper, bushing = (PartFactory(description=words) for words in ("Wiper", "Bushing"))
    PartLineFactory(ticket=made, part=wiper, quantity=2, unit_price=Decimal("11.50"), status="used")
    PartLineFactory(ticket=made, part=bushing, quantity=1, unit_price=None, status="used")
    client.force_login(UserFactory(shop=made.shop, role="owner"))
    return Ticket.objects.select_related("shop", "unit__model", "customer").get(pk=made.pk)


def line_of(ticket: Ticket, words: str) -> PartLine:
    return ticket.part_lines.select_related("ticket__shop", "part").get(part__description=words)


def test_it_is_named_and_not_owed_and_needs_no_price(ticket: Ticket) -> None:
    assert charges_of(ticket).gross == Decimal("123.60")
    for words, whose in (("Wiper", "shop"), ("Bushing", "maker")):
        bear(line=line_of(ticket, words), warranty=whose, by=None)
    charges = charges_of(ticket)
    assert [(line.title, line.amount) for line in charges.lines][1:] == [
        ("Wiper, under the shop’s warranty", Decimal(0)), ("Bushing, under the maker’s warranty", Decimal(0)),
    ]  # fmt: skip
    assert (charges.net, charges.tax, charges.gross, charges.unpriced) == (Decimal(80), Decimal(16), Decimal(96), 0)
    assert unpriced_lines(ticket) == []
    assert said(ticket.events.first()) == "Bushing: borne by the maker’s warranty"
    bear(line=line_of(ticket, "Wiper"), warranty="shop", by=None)
    assert ticket.events.filter(kind="warranty_bears").count() == 2
    bear(line=line_of(ticket, "Wiper"), warranty="", by=None)
    assert charges_of(ticket).gross == Decimal("123.60")
    assert said(ticket.events.first()) == "Wiper: borne by no warranty after all"


def test_handed_over_it_is_on_the_receipt_and_in_no_turnover(ticket: Ticket) -> None:
    for words in ("Wiper", "Bushing"):
        bear(line=line_of(ticket, words), warranty="maker", by=None)
    one = hand_it_over(ticket, part("cash", "96"))
    final = FinalCharges.objects.get()
    assert (one.gross, final.net, final.gross) == (Decimal(96), Decimal(80), Decimal(96))
    stored = Ticket.objects.select_related("shop").get(pk=ticket.pk)
    assert standing_charges(stored)[0].gross == 96
    lines = Receipt.objects.get().data["tickets"][0]["charges"]["lines"]
    assert [(line["title"], line["amount"]) for line in lines[1:]] == [
        ("Wiper, under the maker’s warranty", "0.00 EUR"), ("Bushing, under the maker’s warranty", "0.00 EUR"),
    ]  # fmt: skip
    assert [line.title for line in creditable(one).lines] == [final.lines[0]["title"]]
    on = final.at.date()
    (charge,) = charges_of_period(ticket.shop, Period(on, on))
    assert (charge.net, charge.labour) == (Decimal(80), Decimal(80))
    assert ",80.00,16.00,96.00" in charges_csv(ticket.shop, on, on).decode()
    with pytest.raises(ValidationError, match="handed back"):
        bear(line=line_of(ticket, "Wiper"), warranty="", by=None)


def test_nothing_is_taken_off_what_nobody_owes(ticket: Ticket) -> None:
    for words in ("Wiper", "Bushing"):
        bear(line=line_of(ticket, words), warranty="shop", by=None)
    with pytest.raises(ValidationError, match=r"No more than 0\.00 EUR"):
        give_discount(ticket=ticket, off="part", amount=Decimal(1), reason="Goodwill", by=None)


def test_labour_too_and_back_on_the_screen(client: Client, ticket: Ticket) -> None:
    labour = charge_price(ticket=ticket, words="Bushings pressed in", price=Decimal(40), by=None)
    address = reverse("charges:warranty", args=[ticket.number])
    page = client.get(reverse("charges:ticket", args=[ticket.number]))
    assertContains(page, f'value="labour-{labour.pk}"')
    for wrong in ({"line": f"labour-{labour.pk}", "warranty": "nobody"}, {"line": "part-0", "warranty": "shop"}):
        assert client.post(address, wrong).status_code == 422
    assert client.post(address, {"line": f"labour-{labour.pk}", "warranty": "maker"}).status_code == 302
    page = client.get(reverse("charges:ticket", args=[ticket.number]))
    assertContains(page, "Bushings pressed in, under the maker’s warranty")
    assertNotContains(page, f'<option value="labour-{labour.pk}"')
    client.post(reverse("charges:drop_warranty", args=[ticket.number]), {"line": f"labour-{labour.pk}"})
    assert LabourLine.objects.get(pk=labour.pk).warranty == ""
    answer = client.post(reverse("charges:drop_warranty", args=[ticket.number]), {"line": "part-0"}, follow=True)
    assertContains(answer, "removed meanwhile")


def test_a_line_that_was_dropped_is_borne_by_nobody(ticket: Ticket) -> None:
    line = line_of(ticket, "Wiper")
    PartLine.objects.filter(pk=line.pk).update(status="dropped")
    with pytest.raises(ValidationError, match="removed meanwhile"):
        bear(line=line, warranty="shop", by=None)
    with pytest.raises(ValidationError, match="who bears"):
        bear(line=line_of(ticket, "Bushing"), warranty="friend", by=None)


@pytest.mark.parametrize("model", [PartLine, LabourLine])
def test_the_database_knows_no_other_warranty(ticket: Ticket, model: type[PartLine] | type[LabourLine]) -> None:
    assert model._default_manager.exists()
    with pytest.raises(IntegrityError), transaction.atomic():
        model._default_manager.update(warranty="x")
