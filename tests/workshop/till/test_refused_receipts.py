"""What no receipt is issued for, and what is not paid back: each refusal in its words, and nothing is kept of it."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from tests.factories import CustomerFactory, ShopFactory, SuspensionUnitFactory, TicketFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.models import HandOver, Payment, Receipt, ReceiptSeries, Ticket
from workshop.till import receipts
from workshop.till.receipts import issue_receipt, may_go_together
from workshop.till.taking import pay_back, take_payment
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db


@pytest.fixture
def two() -> list[HandOver]:
    """A fork and a shock of one customer, handed over without a receipt."""
    shop = ShopFactory()
    customer = CustomerFactory(shop=shop)
    return [
        hand_it_over(
            ready_ticket(shop=shop, customer=customer, unit=SuspensionUnitFactory(shop=shop, customer=customer)),
            part("cash", "80"),
            with_receipt=False,
        )
        for _ in range(2)
    ]


def refused(hand_overs: list[HandOver], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        issue_receipt(hand_overs=hand_overs, by=None)
    assert not Receipt.objects.exists()
    assert not ReceiptSeries.objects.exists(), "what is refused takes no number"


def test_a_receipt_is_for_something() -> None:
    refused([], "Choose what the receipt is for")


def test_a_receipt_is_in_one_currency(two: list[HandOver]) -> None:
    HandOver.objects.filter(pk=two[1].pk).update(currency="CHF")
    refused(two, "in one currency")


def test_what_was_opened_again_meanwhile_is_on_no_receipt(two: list[HandOver]) -> None:
    ticket = Ticket.objects.select_related("shop").get(pk=two[1].ticket_id)
    assert open_again(ticket=ticket, reason="Wrong price", by=None, seen_version=ticket.version) is None
    refused(two, "opened again meanwhile")
    assert may_go_together(two[0].ticket) == []


def test_no_more_tickets_than_a_receipt_takes(two: list[HandOver], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(receipts, "MOST_TICKETS", 1)
    refused(two, "no more than 1 tickets")
    monkeypatch.setattr(receipts, "MOST_TICKETS", 2)
    assert issue_receipt(hand_overs=two, by=None).gross == Decimal("160.00")


@pytest.mark.parametrize("amount", ["0", "-5"])
def test_nothing_or_less_is_not_paid_back(amount: str) -> None:
    """Less than nothing would be money that came in, with no limit asked."""
    ticket = TicketFactory()
    take_payment(ticket=ticket, part=part("cash", "50"), client_id=uuid.uuid4(), by=None)
    with pytest.raises(ValidationError) as said:
        pay_back(ticket=ticket, kind="cash", amount=Decimal(amount), reason="Why", client_id=uuid.uuid4(), by=None)
    assert said.value.message_dict == {"amount": ["Enter how much is paid back, above zero."]}
    assert [one.amount for one in Payment.objects.all()] == [Decimal(50)]
