"""Numbers of receipts: without a gap and without a double, whoever comes at once and whatever fails."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import CustomerFactory, ShopFactory, SuspensionUnitFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.models import FinalCharges, HandOver, Payment, Receipt, ReceiptTicket, Shop, Ticket
from workshop.till.receipts import issue_receipt
from workshop.work.taking_back import open_again

CLERKS = 8


def numbers(kind: str = "receipt") -> list[int]:
    return sorted(Receipt.objects.filter(kind=kind).values_list("number", flat=True))


def tickets_of(shop: Shop, count: int) -> list[Ticket]:
    return [ready_ticket("80.00", shop=shop) for _ in range(count)]


@pytest.mark.django_db(transaction=True)
def test_eight_clerks_at_once_leave_no_gap_and_no_double() -> None:
    shop = ShopFactory()
    tickets = tickets_of(shop, CLERKS)

    def clerk(number: int) -> int:
        ticket = Ticket.objects.select_related("shop").get(pk=tickets[number].pk)
        # Every third gives too little: what is refused gives its number back.
        if number % 3 == 2:
            with pytest.raises(ValidationError):
                hand_it_over(ticket, part("cash", "79.99"))
        return hand_it_over(ticket, part("cash", "80.00")).pk

    assert len(set(at_once(clerk, CLERKS))) == CLERKS
    assert numbers() == list(range(1, CLERKS + 1))
    assert Payment.objects.count() == CLERKS

    def reopen(number: int) -> None:
        ticket = Ticket.objects.select_related("shop").get(pk=tickets[number].pk)
        open_again(ticket=ticket, reason="Wrong price", by=None, seen_version=ticket.version)

    at_once(reopen, CLERKS)
    assert numbers("credit") == list(range(1, CLERKS + 1))


@pytest.mark.django_db(transaction=True)
def test_one_hand_over_pressed_by_eight_is_done_once() -> None:
    ticket, sent = ready_ticket("80.00"), uuid.uuid4()

    def press(_: int) -> int:
        mine = Ticket.objects.select_related("shop").get(pk=ticket.pk)
        return hand_it_over(mine, part("card", "80.00"), client_id=sent).pk

    assert len(set(at_once(press, CLERKS))) == 1
    assert (numbers(), Payment.objects.count(), FinalCharges.objects.count()) == ([1], 1, 1)


@pytest.mark.django_db
def test_each_shop_and_year_counts_from_one(monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = ShopFactory(), ShopFactory()
    for shop in (first, first, second):
        hand_it_over(ready_ticket(shop=shop), part("cash", "80"))
    assert numbers() == [1, 1, 2]
    now = timezone.now()
    monkeypatch.setattr("workshop.till.receipts.timezone.now", lambda: now + dt.timedelta(days=366))
    hand_it_over(ready_ticket(shop=first), part("cash", "80"))
    assert Receipt.objects.latest("pk").number == 1


@pytest.mark.django_db
def test_one_receipt_for_what_a_customer_takes_together() -> None:
    shop = ShopFactory()
    customer = CustomerFactory(shop=shop)
    fork, shock = (
        ready_ticket(price, shop=shop, customer=customer, unit=SuspensionUnitFactory(shop=shop, customer=customer))
        for price in ("80.00", "45.50")
    )
    first = hand_it_over(fork, part("cash", "80"), with_receipt=False)
    hand_it_over(shock, part("card", "45.50"), together=[first])
    receipt = Receipt.objects.get()
    assert (receipt.gross, [one["number"] for one in receipt.data["tickets"]]) == (
        Decimal("125.50"),
        [fork.number, shock.number],
    )
    assert issue_receipt(hand_overs=list(HandOver.objects.all()), by=None) == receipt
    note = open_again(
        ticket=Ticket.objects.select_related("shop").get(pk=fork.pk), reason="Why", by=None, seen_version=2
    )
    assert note is not None
    assert (note.gross, [one["number"] for one in note.data["tickets"]]) == (Decimal("-80.00"), [fork.number])
    other = hand_it_over(ready_ticket(shop=shop), part("cash", "80"))
    with pytest.raises(ValidationError, match="already"):
        issue_receipt(hand_overs=[first, other], by=None)


@pytest.mark.django_db
def test_a_receipt_is_for_one_customer() -> None:
    shop = ShopFactory()
    first = hand_it_over(ready_ticket(shop=shop), part("cash", "80"), with_receipt=False)
    with pytest.raises(ValidationError, match="one customer"):
        hand_it_over(ready_ticket(shop=shop), part("cash", "80"), together=[first])
    assert (numbers(), ReceiptTicket.objects.count()) == ([], 0)


@pytest.mark.django_db
def test_what_is_frozen_stays_when_the_shop_changes() -> None:
    ticket = ready_ticket(shop=ShopFactory(name="Mill Yard"))
    hand_it_over(ticket, part("cash", "80"))
    Shop.objects.update(name="Renamed")
    ticket.customer.name = "Renamed"
    ticket.customer.save()
    data = Receipt.objects.get().data
    assert "Renamed" not in str(data)
    assert data["gross"] == "80.00 EUR"
