"""One payment over several receipts of a customer that were left open: the oldest first, never more than is open."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import CustomerFactory, SuspensionUnitFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from tests.squeezed import squeezed
from workshop.customers.models import Customer
from workshop.models import Payment, Ticket
from workshop.till.on_account import open_receipts, pay_open
from workshop.till.standing import money_of, open_sums
from workshop.till.takings import takings_of

pytestmark = pytest.mark.django_db
REFUSED = 422


@pytest.fixture
def company() -> Customer:
    return CustomerFactory.create(name="Weir Couriers")


@pytest.fixture
def tickets(company: Customer) -> list[Ticket]:
    """Handed over on account one after the other: 80, 70 and 50, of the last 20 were paid at once."""
    return [left_open(company, price, number) for number, price in ((7001, "80.00"), (7002, "70.00"))] + [
        left_open(company, "50.00", 7003, part("card", "20.00"))
    ]


def left_open(company: Customer, price: str, number: int, *paid: Any) -> Ticket:
    unit = SuspensionUnitFactory.create(shop=company.shop, customer=company)
    ticket = ready_ticket(price, shop=company.shop, customer=company, unit=unit, number=number)
    hand_it_over(ticket, *paid, on_account=True, with_receipt=True)
    return ticket


def pay(company: Customer, amount: str | None = None, **given: Any) -> list[Payment]:
    asked: dict[str, Any] = {
        "chosen": [one.seen for one in open_receipts(company)], "kind": "transfer", "client_id": uuid.uuid4(),
        "by": None, **given,
    }  # fmt: skip
    return pay_open(customer=company, amount=None if amount is None else Decimal(amount), **asked)


def test_all_of_it_in_one(company: Customer, tickets: list[Ticket]) -> None:
    booked = pay(company)
    assert [(one.ticket, one.amount) for one in booked] == list(
        zip(tickets, map(Decimal, ("80", "70", "30")), strict=True)
    )
    assert len({one.client_id for one in booked}) == 1
    assert not open_sums(company.shop)
    day = takings_of(company.shop, timezone.localdate())
    assert (day.money, day.receipted) == (Decimal(200), Decimal(200))
    assert all(ticket.events.filter(kind="paid", values__how="transfer").exists() for ticket in tickets)


def test_a_part_of_it_pays_the_oldest_first(company: Customer, tickets: list[Ticket]) -> None:
    pay(company, "100")
    assert [money_of(ticket) for ticket in tickets] == [80, 20, 20]
    assert [(one.sum.ticket, one.sum.amount) for one in open_receipts(company)] == [
        (tickets[1], Decimal(50)), (tickets[2], Decimal(30)),
    ]  # fmt: skip
    pay(company)
    assert takings_of(company.shop, timezone.localdate()).money == 200


def test_only_what_is_chosen(company: Customer, tickets: list[Ticket]) -> None:
    pay(company, chosen=[open_receipts(company)[1].seen])
    assert [money_of(ticket) for ticket in tickets] == [0, 70, 20]


def test_cash_with_change(company: Customer, tickets: list[Ticket]) -> None:
    booked = pay(company, kind="cash", given=Decimal(200))
    assert sum(one.given - one.amount for one in booked if one.given is not None) == 20


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"amount": "180.01"}, r"more than is open: 180\.00 EUR"),
        ({"amount": "0"}, "above zero"),
        ({"amount": "-1"}, "above zero"),
        ({"chosen": []}, "Choose what it pays"),
        ({"chosen": ["7001:79.00"]}, "changed meanwhile"),
        ({"kind": "cash", "given": Decimal(100)}, "less than what is paid"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_booked(
    company: Customer, tickets: list[Ticket], asked: dict[str, Any], said: str
) -> None:
    with pytest.raises(ValidationError, match=said):
        pay(company, **asked)
    assert [money_of(ticket) for ticket in tickets] == [0, 0, 20]


def test_the_sums_of_others_are_not_paid(company: Customer, tickets: list[Ticket]) -> None:
    other = CustomerFactory.create(shop=company.shop)
    theirs = left_open(other, "40.00", 7100)
    with pytest.raises(ValidationError, match="changed meanwhile"):
        pay(company, chosen=[open_receipts(other)[0].seen])
    pay(company)
    assert money_of(theirs) == 0


def test_sent_twice_it_is_booked_once(company: Customer, tickets: list[Ticket]) -> None:
    same = uuid.uuid4()
    assert pay(company, "90", client_id=same) == pay(company, "90", client_id=same)
    assert sum(map(money_of, tickets)) == 110


@pytest.mark.django_db(transaction=True)
def test_two_at_once_pay_it_once(company: Customer, tickets: list[Ticket]) -> None:
    chosen = [one.seen for one in open_receipts(company)]

    def press(person: int) -> bool:
        try:
            pay(Customer.objects.select_related("shop").get(pk=company.pk), chosen=chosen)
        except ValidationError:
            return False
        return True

    assert sorted(at_once(press, 2)) == [False, True]
    assert [money_of(ticket) for ticket in tickets] == [80, 70, 50]


@pytest.fixture
def counter(client: Client, company: Customer) -> Client:
    client.force_login(UserFactory.create(shop=company.shop))
    return client


def page(company: Customer) -> str:
    return reverse("counter:open_of_customer", args=[company.pk])


def test_the_page_pays_what_is_ticked_and_says_what_is_left(
    counter: Client, company: Customer, tickets: list[Ticket]
) -> None:
    listed = squeezed(counter.get(reverse("counter:open_sums")).text)
    assert page(company) in listed
    shown = counter.get(page(company))
    assert "180.00 EUR open in total" in squeezed(shown.text)
    chosen = shown.context["form"].fields["chosen"].initial
    wrong = counter.post(
        page(company), {"client_id": str(uuid.uuid4()), "chosen": chosen, "kind": "cash", "amount": "999"}
    )
    assert (wrong.status_code, "more than is open" in squeezed(wrong.text), "999" in wrong.text) == (
        REFUSED,
        True,
        True,
    )
    sent = {"client_id": str(uuid.uuid4()), "chosen": chosen, "kind": "cash", "amount": "100", "given": "120"}
    said = squeezed(counter.post(page(company), sent, follow=True).text)
    assert "100.00 EUR paid, 80.00 EUR on ticket 7001, 20.00 EUR on ticket 7002. Give 20.00 EUR change." in said
    assert "80.00 EUR open in total" in said
    paid = counter.get(reverse("counter:payments", args=[7002])).context["paid"]
    assert (paid.money, paid.due, paid.receipt is not None) == (Decimal(20), Decimal(50), True)
    stale = counter.post(page(company), {**sent, "client_id": str(uuid.uuid4())})
    assert (stale.status_code, "changed meanwhile" in squeezed(stale.text)) == (REFUSED, True)


def test_nothing_open_asks_for_nothing(counter: Client, company: Customer) -> None:
    shown = squeezed(counter.get(page(company)).text)
    assert "Nothing is open." in shown
    assert "Record this payment" not in shown


def test_more_that_is_open_asks_no_more_queries(counter: Client, company: Customer, tickets: list[Ticket]) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            counter.get(page(company))
        return len(asked)

    few = queries()
    for number in range(7004, 7010):
        left_open(company, "10.00", number)
    assert queries() == few
