"""Handing over as one act: what is paid, what stays open, what goes back, and taking it back."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from tests.factories import ShopFactory, SuspensionUnitFactory, TicketFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.charges.closing import freeze_charges
from workshop.models import FinalCharges, HandOver, Payment, Receipt, Ticket
from workshop.tickets.one_open import OpenElsewhere
from workshop.tickets.settings_record import Settings
from workshop.till.standing import has_open_money, money_held, money_of, open_sums, paid_for
from workshop.till.taking import MoneyHeld, pay_back, take_payment
from workshop.work.hand_back import hand_back
from workshop.work.moves import UnlawfulMove, move
from workshop.work.taking_back import open_again, undo_hand_over

pytestmark = pytest.mark.django_db


def fresh(ticket: Ticket) -> Ticket:
    return Ticket.objects.select_related("shop").get(pk=ticket.pk)


def deposit(ticket: Ticket, amount: str, kind: str = "cash") -> Payment:
    return take_payment(ticket=ticket, part=part(kind, amount), client_id=uuid.uuid4(), by=None)


def back(ticket: Ticket, amount: str, reason: str = "Too much") -> Payment:
    return pay_back(ticket=ticket, kind="cash", amount=Decimal(amount), reason=reason, client_id=uuid.uuid4(), by=None)


class TestPaying:
    def test_a_deposit_and_two_parts_pay_it(self) -> None:
        ticket = ready_ticket("80.00")
        deposit(ticket, "30.00", "transfer")
        one = hand_it_over(ticket, part("card", "30.00"), part("cash", "20.00", given="50.00"))
        standing = paid_for(fresh(ticket), one.gross)
        assert [(paid.kind, paid.amount, paid.given) for paid in standing.payments] == [
            ("transfer", Decimal("30.00"), None),
            ("card", Decimal("30.00"), None),
            ("cash", Decimal("20.00"), Decimal("50.00")),
        ]
        assert (standing.due, fresh(ticket).state) == (Decimal("0.00"), "handed_back")
        assert [row["how"] for row in Receipt.objects.get().data["payments"]] == ["Bank transfer", "Card", "Cash"]

    def test_sent_twice_is_done_once(self) -> None:
        ticket, sent = ready_ticket(), uuid.uuid4()
        first = hand_it_over(ticket, part("cash", "80"), client_id=sent)
        assert hand_it_over(ticket, part("cash", "80"), client_id=sent) == first
        assert (HandOver.objects.count(), Payment.objects.count(), Receipt.objects.count()) == (1, 1, 1)

    def test_a_payment_sent_twice_is_booked_once(self) -> None:
        ticket, sent = TicketFactory(), uuid.uuid4()
        paid = [take_payment(ticket=ticket, part=part("cash", "10"), client_id=sent, by=None) for _ in range(2)]
        assert paid[0] == paid[1]
        assert money_of(ticket) == 10

    @pytest.mark.parametrize("amount", ["80.01", "1000"])
    def test_more_than_is_due_is_refused_and_nothing_is_kept(self, amount: str) -> None:
        ticket = ready_ticket("80.00")
        with pytest.raises(ValidationError, match=r"more than is due: 80\.00 EUR"):
            hand_it_over(ticket, part("cash", amount))
        assert (fresh(ticket).state, Payment.objects.count(), FinalCharges.objects.count()) == ("ready", 0, 0)

    @pytest.mark.parametrize("amount", ["0", "-5"])
    def test_nothing_or_less_is_no_payment(self, amount: str) -> None:
        with pytest.raises(ValidationError) as refused:
            deposit(TicketFactory(), amount)
        assert set(refused.value.message_dict) <= {"amount", "reason"}
        assert Payment.objects.count() == 0

    def test_less_cash_than_is_paid_is_refused(self) -> None:
        with pytest.raises(ValidationError) as refused:
            hand_it_over(ready_ticket("80"), part("cash", "80", given="50"))
        assert "given" in refused.value.message_dict

    def test_less_than_is_due_goes_on_account_or_not_at_all(self) -> None:
        ticket = ready_ticket("80.00")
        with pytest.raises(ValidationError, match=r"50\.00 EUR of it is not paid yet"):
            hand_it_over(ticket, part("cash", "30"))
        hand_it_over(ticket, part("cash", "30"), on_account=True)
        (one,) = open_sums(ticket.shop)
        assert (one.ticket, one.amount) == (ticket, Decimal("50.00"))
        deposit(fresh(ticket), "50.00", "transfer")
        assert open_sums(ticket.shop) == []

    def test_no_deposit_where_nothing_may_be_spent(self) -> None:
        ticket = ready_ticket("0", state="on_the_bench", price_ceiling=Decimal(0))
        with pytest.raises(ValidationError, match=r"no more than 0\.00 EUR"):
            deposit(ticket, "10")

    def test_no_deposit_beyond_what_was_agreed(self) -> None:
        ticket = ready_ticket("20.00", state="on_the_bench", price_ceiling=Decimal(100))
        deposit(ticket, "60")
        with pytest.raises(ValidationError, match=r"no more than 40\.00 EUR"):
            deposit(ticket, "40.01")

    def test_a_ticket_from_before_payments_is_neither_paid_nor_open(self) -> None:
        ticket = ready_ticket("80.00")
        hand_back(ticket=ticket, by=None, seen_version=1, settings=Settings())
        standing = paid_for(fresh(ticket), Decimal("80.00"))
        assert not standing.recorded
        assert (open_sums(ticket.shop), money_held(ticket.shop)) == ([], [])
        with pytest.raises(ValidationError, match="not recorded"):
            deposit(fresh(ticket), "80")


class TestPayingBack:
    def test_never_more_than_was_paid(self) -> None:
        ticket = TicketFactory()
        deposit(ticket, "50")
        back(ticket, "20")
        with pytest.raises(ValidationError, match=r"more than was paid: 30\.00 EUR"):
            back(ticket, "30.01")
        assert back(ticket, "30").amount == Decimal(-30)
        assert money_of(ticket) == 0

    def test_only_with_a_reason(self) -> None:
        ticket = TicketFactory()
        deposit(ticket, "50")
        with pytest.raises(ValidationError) as refused:
            back(ticket, "20", reason=" ")
        assert "reason" in refused.value.message_dict

    def test_the_database_wants_the_reason_too(self) -> None:
        paid = deposit(TicketFactory(), "50")
        with pytest.raises(IntegrityError), transaction.atomic():
            Payment.objects.filter(pk=paid.pk).update(amount=Decimal(-50))

    def test_a_deposit_of_a_ticket_called_off_is_paid_back_as_it_goes(self) -> None:
        ticket = TicketFactory(state="booked_in")
        deposit(ticket, "50")
        move(ticket=ticket, to_state="called_off", by=None, seen_version=1)
        assert [(one.ticket, one.amount) for one in money_held(ticket.shop)] == [(ticket, Decimal(50))]
        for hands_back in (
            lambda: hand_it_over(fresh(ticket)),
            lambda: hand_back(ticket=fresh(ticket), by=None, seen_version=2, settings=Settings()),
        ):
            with pytest.raises(MoneyHeld, match=r"50\.00 EUR more was paid"), transaction.atomic():
                hands_back()
        assert fresh(ticket).state == "called_off"
        hand_it_over(fresh(ticket), back_by="cash")
        assert (money_of(ticket), fresh(ticket).state) == (Decimal(0), "handed_back")
        assert money_held(ticket.shop) == []
        assert Payment.objects.last().reason  # type: ignore[union-attr]  # it was just booked


class TestTakingBack:
    def test_the_wrong_row_is_undone_while_nothing_was_paid(self) -> None:
        ticket = ready_ticket("80.00")
        hand_it_over(ticket, on_account=True, with_receipt=False)
        undo_hand_over(ticket=ticket, by=None, seen_version=ticket.version)
        assert (fresh(ticket).state, FinalCharges.objects.count(), open_sums(ticket.shop)) == ("ready", 0, [])
        hand_it_over(fresh(ticket), part("cash", "80"))
        assert paid_for(fresh(ticket), Decimal(80)).due == 0

    @pytest.mark.parametrize("paid", [{"with_receipt": False}, {"on_account": True}])
    def test_not_once_something_was_paid_or_the_receipt_is_out(self, paid: dict[str, Any]) -> None:
        ticket = ready_ticket("80.00")
        parts = [] if "on_account" in paid else [part("cash", "80")]
        hand_it_over(ticket, *parts, client_id=None, **paid)
        with pytest.raises(UnlawfulMove, match="with a reason"):
            undo_hand_over(ticket=ticket, by=None, seen_version=ticket.version)

    def test_opened_again_keeps_the_receipt_and_adds_a_credit_note(self) -> None:
        ticket = ready_ticket("80.00")
        hand_it_over(ticket, part("cash", "80"))
        receipt = Receipt.objects.get()
        printed = receipt.data
        note = open_again(ticket=ticket, reason="Wrong price", by=None, seen_version=ticket.version)
        assert note is not None
        assert (note.number_words, note.gross, note.corrects) == (f"C{note.year}-0001", Decimal("-80.00"), receipt)
        assert Receipt.objects.get(pk=receipt.pk).data == printed
        again = fresh(ticket)
        assert (again.state, money_of(again)) == ("ready", Decimal(80))
        again.labour_lines.update(price=Decimal("60.00"))
        with pytest.raises(MoneyHeld, match=r"20\.00 EUR"), transaction.atomic():
            hand_it_over(again)
        hand_it_over(fresh(ticket), back_by="card")
        assert [(one.number_words, one.gross) for one in Receipt.objects.filter(kind="receipt")] == [
            (f"{note.year}-0001", Decimal("80.00")),
            (f"{note.year}-0002", Decimal("60.00")),
        ]

    def test_opened_again_only_with_a_reason(self) -> None:
        ticket = ready_ticket()
        hand_it_over(ticket, part("cash", "80"))
        with pytest.raises(ValidationError):
            open_again(ticket=ticket, reason=" ", by=None, seen_version=ticket.version)
        assert Receipt.objects.count() == 1

    def test_not_while_its_unit_is_here_on_another_ticket(self) -> None:
        ticket = ready_ticket()
        hand_it_over(ticket, part("cash", "80"))
        TicketFactory(shop=ticket.shop, unit=ticket.unit, customer=ticket.customer)
        with pytest.raises(OpenElsewhere):
            open_again(ticket=fresh(ticket), reason="Why", by=None, seen_version=ticket.version)

    def test_one_from_before_payments_stays_as_it_is(self) -> None:
        ticket = ready_ticket()
        hand_back(ticket=ticket, by=None, seen_version=1, settings=Settings())
        with pytest.raises(UnlawfulMove, match="before payments were kept"):
            open_again(ticket=ticket, reason="Why", by=None, seen_version=ticket.version)


def test_open_money_is_known() -> None:
    shop = ShopFactory()
    assert not has_open_money(shop)
    ticket = TicketFactory(shop=shop, unit=SuspensionUnitFactory(shop=shop))
    deposit(ticket, "5")
    assert has_open_money(shop)
    back(ticket, "5")
    assert not has_open_money(shop)


def test_charges_frozen_twice_are_refused_by_the_database() -> None:
    ticket = ready_ticket()
    freeze_charges(ticket=ticket, by=None)
    with pytest.raises((IntegrityError, ValidationError)), transaction.atomic():
        freeze_charges(ticket=ticket, by=None)
