"""Credit notes in part: lines or an amount, never more than is left, with what goes back in the day's drawer."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.at_once import at_once
from tests.factories import DocumentFactory, PartLineFactory, ShopFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from tests.squeezed import squeezed
from workshop.charges.models import TaxRules
from workshop.documents.receipt import gather_credit_note
from workshop.models import HandOver, Payment, Receipt, Ticket, User
from workshop.tickets.models import PartLine
from workshop.till.crediting import credit, credit_part, creditable
from workshop.till.standing import money_of, open_sums, paid_for
from workshop.till.taking import take_payment
from workshop.till.takings import takings_of
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db
REFUSED = 422


def sold(*, labour: str = "80.00", parts: tuple[str, ...] = (), rates: tuple[str, str] = ("0", "0")) -> Ticket:
    shop = ShopFactory.create()
    TaxRules.objects.create(shop=shop, labour_percent=Decimal(rates[0]), parts_percent=Decimal(rates[1]))
    ticket = ready_ticket(labour, shop=shop)
    for price in parts:
        PartLineFactory.create(ticket=ticket, unit_price=Decimal(price), quantity=1, status=PartLine.Status.USED)
    return ticket


def handed_over(ticket: Ticket, *kinds: str, **paid: Any) -> HandOver:
    """Paid in full in one way, or on account where none is named; with its receipt."""
    from workshop.charges.ticket_charges import charges_of

    parts = [part(kind, charges_of(ticket).gross) for kind in kinds]
    return hand_it_over(ticket, *parts, on_account=not kinds, with_receipt=True, **paid)


def some(hand_over: HandOver, amount: str | None = None, **given: Any) -> Receipt:
    asked: dict[str, Any] = {"reason": "Scratched", "back_by": "cash", "client_id": uuid.uuid4(), "by": None, **given}
    return credit_part(hand_over=hand_over, amount=None if amount is None else Decimal(amount), **asked)


def due_of(ticket: Ticket) -> Decimal:
    return paid_for(Ticket.objects.get(pk=ticket.pk), Ticket.objects.get(pk=ticket.pk).final_charges.gross).due


def test_an_amount_is_credited_and_goes_back_in_the_days_drawer() -> None:
    ticket = sold()
    note = some(handed_over(ticket, "card"), "30")
    assert (note.kind, note.gross, note.corrects) == ("credit", Decimal("-30.00"), Receipt.objects.get(kind="receipt"))
    day = takings_of(ticket.shop, timezone.localdate())
    assert (day.cash, day.money, day.receipted) == (Decimal("-30.00"), Decimal("50.00"), Decimal("50.00"))
    assert due_of(ticket) == 0
    assert Payment.objects.latest("pk").reason == "Scratched"


def test_lines_are_credited_with_their_tax_and_once() -> None:
    ticket = sold(labour="100.00", parts=("20.00", "10.00"), rates=("19", "7"))
    one = handed_over(ticket, "cash")
    first = next(line for line in creditable(one).lines if line.gross == Decimal("21.40"))
    note = some(one, lines=[first.place])
    assert note.tax_rows == [{"percent": first.percent.__str__(), "net": "-20.00", "tax": "-1.40", "gross": "-21.40"}]
    with pytest.raises(ValidationError, match="Credited already"):
        some(one, lines=[first.place])
    rest = [line.place for line in creditable(one).lines if not line.credited]
    some(one, lines=rest)
    assert creditable(one).gross == 0
    assert money_of(ticket) == 0
    with pytest.raises(ValidationError, match=r"No more than 0\.00"):
        some(one, "0.01")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"amount": "80.01"}, r"No more than 80\.00 EUR"),
        ({"amount": "0"}, "above zero"),
        ({"amount": "-5"}, "above zero"),
        ({}, "one of the two"),
        ({"amount": "5", "lines": [0]}, "one of the two"),
        ({"lines": [7]}, "Choose among the lines"),
        ({"amount": "5", "reason": " "}, "Say why"),
        ({"amount": "5", "back_by": ""}, r"Say how 5\.00 EUR is paid back"),
        ({"amount": "5", "back_by": "account"}, "Say how"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_kept(asked: dict[str, Any], said: str) -> None:
    one = handed_over(sold(), "cash")
    with pytest.raises(ValidationError, match=said):
        some(one, **asked)
    assert Receipt.objects.filter(kind="credit").count() == 0
    assert money_of(one.ticket) == 80


def test_what_was_not_paid_is_no_longer_due_and_nothing_goes_back() -> None:
    ticket = sold()
    some(handed_over(ticket), "30", back_by="")
    assert [one.amount for one in open_sums(ticket.shop)] == [Decimal("50.00")]
    assert money_of(ticket) == 0
    with pytest.raises(ValidationError, match=r"no more than 50\.00 EUR"):
        take_payment(ticket=ticket, part=part("cash", "50.01"), client_id=uuid.uuid4(), by=None)
    take_payment(ticket=ticket, part=part("cash", "50.00"), client_id=uuid.uuid4(), by=None)
    assert not open_sums(ticket.shop)


def test_only_what_was_paid_above_the_rest_goes_back() -> None:
    ticket = sold()
    one = hand_it_over(ticket, part("cash", "60.00"), on_account=True, with_receipt=True)
    some(one, "30")
    assert money_of(ticket) == Decimal("50.00")
    assert due_of(ticket) == 0


def test_no_receipt_nothing_to_credit() -> None:
    one = hand_it_over(sold(), part("cash", "80.00"), with_receipt=False)
    with pytest.raises(ValidationError, match="no receipt"):
        some(one, "5")


def test_opened_again_the_rest_is_credited_and_no_more() -> None:
    ticket = sold(labour="100.00", parts=("20.00",), rates=("19", "7"))
    one = handed_over(ticket, "cash")
    some(one, "40")
    note = open_again(ticket=ticket, reason="Not right", by=None, seen_version=Ticket.objects.get(pk=ticket.pk).version)
    assert note is not None
    assert takings_of(ticket.shop, timezone.localdate()).receipted == 0
    with pytest.raises(ValidationError, match="no receipt that stands"):
        some(one, "5")


def test_all_credited_in_parts_opening_again_adds_no_note() -> None:
    ticket = sold()
    one = handed_over(ticket, "cash")
    last = some(one, "80")
    assert credit(hand_over=one, reason="Not right", by=None) == last


def test_sent_twice_it_is_issued_once() -> None:
    one, same = handed_over(sold(), "cash"), uuid.uuid4()
    assert some(one, "5", client_id=same) == some(one, "5", client_id=same)
    assert money_of(one.ticket) == 75


@pytest.mark.django_db(transaction=True)
def test_two_at_once_never_credit_more_than_there_is() -> None:
    one = handed_over(sold(), "cash")

    def press(person: int) -> bool:
        try:
            some(HandOver.objects.select_related("ticket__shop").get(pk=one.pk), "50")
        except ValidationError:
            return False
        return True

    assert sorted(at_once(press, 2)) == [False, True]
    assert Receipt.objects.filter(kind="credit").count() == 1
    assert money_of(one.ticket) == 30


@settings(
    max_examples=15,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    labour=st.integers(1, 50_000),
    parts=st.lists(st.integers(1, 9_999), max_size=3),
    shares=st.lists(st.integers(1, 100), min_size=1, max_size=4),
    rates=st.sampled_from([("19", "7"), ("5.5", "0"), ("20", "20")]),
)
def test_credited_in_any_parts_receipts_money_and_tickets_agree(
    db: None, labour: int, parts: list[int], shares: list[int], rates: tuple[str, str]
) -> None:
    ticket = sold(labour=str(Decimal(labour) / 100), parts=tuple(str(Decimal(one) / 100) for one in parts), rates=rates)
    one = handed_over(ticket, "cash")
    charged = ticket.final_charges.gross
    credited = Decimal(0)
    for share in shares:
        left = creditable(one).gross
        amount = (left * share / 100).quantize(Decimal("0.01"))
        if amount:
            some(one, str(amount))
            credited += amount
    day = takings_of(ticket.shop, timezone.localdate())
    assert day.receipted == day.money == charged - credited
    assert creditable(one).gross == charged - credited
    for note in Receipt.objects.filter(shop=ticket.shop, kind="credit"):
        assert note.net + note.tax == note.gross
    if left := creditable(one).gross:
        some(one, str(left))
    assert all(row.net == row.tax == row.gross == 0 for row in creditable(one).left.values()), "each rate to the cent"


@pytest.fixture
def ticket(client: Client) -> Ticket:
    made = sold(labour="80.00", parts=("20.00",))
    client.force_login(UserFactory.create(shop=made.shop, owner=True))
    return made


def page(ticket: Ticket, name: str = "payments") -> str:
    return reverse(f"counter:{name}", args=[ticket.number])


def test_the_page_offers_what_is_left_and_prints_what_was_credited(client: Client, ticket: Ticket) -> None:
    one = handed_over(ticket, "cash")
    form = client.get(page(ticket)).context["credit_form"]
    place, words = form.fields["lines"].choices[0]
    assert "80.00 EUR" in words
    sent = {"client_id": str(uuid.uuid4()), "lines": [str(place)], "reason": "Not done", "back_by": "card"}
    assert client.post(page(ticket, "credit_part"), sent).status_code == 302
    shown = client.get(page(ticket))
    assert "Credited" in squeezed(shown.text)
    assert "80.00" not in str(shown.context["credit_form"].fields["lines"].choices)
    again = client.post(page(ticket, "credit_part"), {**sent, "client_id": str(uuid.uuid4())})
    assert again.status_code == REFUSED
    assert "credited meanwhile" in squeezed(again.text)
    assert "Not done" in again.text
    note = Receipt.objects.get(kind="credit")
    assert (note.data["in_part"], note.data["line_titles"]) == ("80.00 EUR", [words.split(",")[0]])
    some(one, "20")
    assert client.get(page(ticket)).context["credit_form"] is None


def test_of_several_credit_notes_each_is_printed(ticket: Ticket) -> None:
    one = handed_over(ticket, "cash")
    numbers = [some(one, amount).number_words for amount in ("5", "7")]
    for revision, number in enumerate(numbers, start=1):
        data = gather_credit_note(ticket, "")
        assert data["number"] == number
        DocumentFactory.create(ticket=ticket, kind="credit_note", revision=revision, data=data)
    assert gather_credit_note(ticket, "")["number"] == numbers[-1]


def test_a_clerk_credits_nothing(client: Client, ticket: Ticket) -> None:
    handed_over(ticket, "cash")
    client.force_login(UserFactory.create(shop=ticket.shop, role=User.Role.COUNTER))
    assert client.get(page(ticket)).context["credit_form"] is None
    assert client.post(page(ticket, "credit_part"), {"amount": "5"}).status_code == 403
