"""Taking money and paying it back: written down, not processed. Each write is sent with an id and booked once."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.agreeing import agreed_limit, left_of_all
from workshop.charges.sums import NOTHING
from workshop.charges.ticket_charges import standing_charges
from workshop.staff.models import Shop, User
from workshop.tickets.booking import hold_numbers
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.tickets.refusals import UnlawfulMove
from workshop.till.models import HandOver, Payment
from workshop.till.standing import ACCOUNT, credited_by_hand_over, money_of, standing_hand_over
from workshop.web.number_words import money_words, plain_money, shop_money

MONEY_KINDS = [choice for choice in Payment.Kind.choices if choice[0] != ACCOUNT]
_STATES_OF_ONE_SUM = (Ticket.State.READY, Ticket.State.HANDED_BACK, Ticket.State.CALLED_OFF)


class MoneyHeld(UnlawfulMove):
    """The shop holds more of the customer's money than the ticket comes to; `back` says how much."""

    def __init__(self, back: Decimal, currency: str, country: str = "") -> None:
        super().__init__(
            f"{money_words(back, currency, country)} more was paid than it comes to. Pay that back, and say how, to "
            "close it."
        )
        self.back = back


@dataclass(frozen=True)
class PaidPart:
    """A payment as it is made: how, how much, and the cash that was handed in where change was given."""

    kind: str
    amount: Decimal
    given: Decimal | None = None


@transaction.atomic
def take_payment(*, ticket: Ticket, part: PaidPart, client_id: uuid.UUID, by: User | None) -> Payment:
    """Write down a deposit, a part payment, or what was open. Sent again it is the payment that was booked.

    Raises:
        ValidationError: nothing or less, more than is due or was agreed, less cash than is paid, or the ticket was
            handed back before payments were kept.
    """
    shop = _hold(ticket)
    if (made := Payment.objects.filter(client_id=client_id, ticket=ticket).first()) is not None:
        return made
    hand_over = standing_hand_over(ticket)
    if ticket.state == Ticket.State.HANDED_BACK and hand_over is None:
        raise ValidationError("It was handed back before payments were kept here; whether it was paid is not recorded.")
    most = most_that_may_be_paid(ticket)
    if most is not None and part.amount > most:
        due = shop_money(max(most, NOTHING), shop)
        raise ValidationError({"amount": f"This is more than is due: no more than {due} can be paid now."})
    payment = write_payment(ticket=ticket, part=part, client_id=client_id, hand_over=hand_over, by=by)
    log(ticket=ticket, by=by, kind="paid", values=payment_values(payment))
    return payment


@transaction.atomic
def pay_back(
    *, ticket: Ticket, kind: str, amount: Decimal, reason: str, client_id: uuid.UUID, by: User | None
) -> Payment:
    """Write down money that goes back, as an entry below zero. Sent again it is the entry that was booked.

    Raises:
        ValidationError: nothing or less, more than was paid, or without a reason.
    """
    shop = _hold(ticket)
    if (made := Payment.objects.filter(client_id=client_id, ticket=ticket).first()) is not None:
        return made
    paid = money_of(ticket)
    if amount <= 0:
        raise ValidationError({"amount": "Enter how much is paid back, above zero."})
    if amount > paid:
        raise ValidationError({"amount": f"This is more than was paid: {shop_money(paid, shop)}."})
    part = PaidPart(kind, -amount)
    return write_payment(
        ticket=ticket, part=part, client_id=client_id, hand_over=standing_hand_over(ticket), by=by, reason=reason
    )


def most_that_may_be_paid(ticket: Ticket) -> Decimal | None:
    """What is due; before it is ready, what was agreed to if that is more. None where nobody set a limit."""
    gross = standing_charges(ticket)[0].gross
    if ticket.state not in _STATES_OF_ONE_SUM:
        said = agreed_limit(ticket.price_ceiling, ticket.agreements.all()), left_of_all(ticket)
        limits = [limit for limit in said if limit is not None]
        if not limits:
            return None
        gross = max(gross, min(limits))
    hand_over = standing_hand_over(ticket)
    credited = credited_by_hand_over([hand_over]).get(hand_over.pk, NOTHING) if hand_over is not None else NOTHING
    return gross - credited - money_of(ticket)


def settle(
    *,
    ticket: Ticket,
    hand_over: HandOver,
    due: Decimal,
    parts: Sequence[PaidPart],
    on_account: bool,
    back_by: str,
    by: User | None,
) -> None:
    """Book what is paid as a ticket is handed over, what is left open, or what is paid back.

    Raises:
        MoneyHeld: too much was paid before, and nobody said how it is paid back.
        ValidationError: paid is more than due, or less and not on account.
    """
    shop = ticket.shop
    if due < 0:
        if back_by not in dict(MONEY_KINDS):
            raise MoneyHeld(-due, shop.currency, shop.country)
        reason = "Paid before, and more than it comes to"
        write_payment(
            ticket=ticket,
            part=PaidPart(back_by, due),
            client_id=hand_over.client_id,
            hand_over=hand_over,
            by=by,
            reason=reason,
        )
        return
    check_paid(due, parts, on_account=on_account, shop=shop)
    paid = sum((part.amount for part in parts), NOTHING)
    booked = [*parts, PaidPart(ACCOUNT, due - paid)] if paid < due else list(parts)
    for number, part in enumerate(booked):
        payment = write_payment(
            ticket=ticket, part=part, client_id=hand_over.client_id, hand_over=hand_over, by=by, number=number
        )
        log(ticket=ticket, by=by, kind="paid", values=payment_values(payment))


def check_paid(due: Decimal, parts: Sequence[PaidPart], *, on_account: bool, shop: Shop) -> None:
    """Raise ValidationError where more is paid than is due, less and not on account, or less cash than is paid."""
    paid = sum((part.amount for part in parts), NOTHING)
    if paid > due:
        raise ValidationError({"amount": f"This is more than is due: {shop_money(due, shop)}."})
    if paid < due and not on_account:
        left = shop_money(due - paid, shop)
        raise ValidationError(
            {"pays_by": f"{left} of it is not paid yet. Say how that is paid, or leave it open on account."}
        )
    if any(part.given is not None and part.given < part.amount for part in parts):
        raise ValidationError({"given": "This is less than what is paid."})


def shared_out(parts: Sequence[PaidPart], dues: Sequence[Decimal]) -> list[list[PaidPart]]:
    """What is paid in one act, part by part to one due after the other; no more of it than is due in all.

    The cash that was handed in stands at the last piece of its part, so that the change stays the same.
    """
    shares: list[list[PaidPart]] = [[] for _ in dues]
    open_dues = list(dues)
    for part in parts:
        left = part.amount
        for place, due in enumerate(open_dues):
            if (piece := min(left, due)) > 0:
                open_dues[place] -= piece
                left -= piece
                change = None if part.given is None or left > 0 else part.given - part.amount
                shares[place].append(PaidPart(part.kind, piece, None if change is None else piece + change))
    return shares


def write_payment(
    *,
    ticket: Ticket,
    part: PaidPart,
    client_id: uuid.UUID,
    hand_over: HandOver | None,
    by: User | None,
    reason: str = "",
    number: int = 0,
) -> Payment:
    """The entry itself. Raises ValidationError beside `amount`, `given` or `reason`."""
    if part.amount == 0 or (part.amount < 0 and not reason.strip()):
        said = {"amount": "Enter an amount above zero."} if part.amount == 0 else {"reason": "Say why it is paid back."}
        raise ValidationError(said)
    if part.amount < 0 and part.kind == ACCOUNT:
        raise ValidationError({"amount": "Enter an amount above zero."})
    if part.given is not None and part.given < part.amount:
        raise ValidationError({"given": "This is less than what is paid."})
    payment = Payment(
        shop=ticket.shop,
        ticket=ticket,
        hand_over=hand_over,
        kind=part.kind,
        amount=part.amount,
        given=part.given if part.kind == Payment.Kind.CASH else None,
        currency=ticket.shop.currency,
        reason=reason.strip(),
        client_id=client_id,
        part=number,
        by=by,
        at=timezone.now(),
    )
    payment.full_clean(exclude=["shop", "ticket", "hand_over", "by"], validate_constraints=False)
    payment.save()
    if part.amount < 0:
        log(ticket=ticket, by=by, kind="paid_back", values={**payment_values(payment), "reason": payment.reason})
    return payment


def _hold(ticket: Ticket) -> Shop:
    """Hold shop and ticket, in the order of every hand-over, and read the ticket's state anew."""
    hold_numbers(ticket.shop)
    ticket.state = Ticket.objects.select_for_update(no_key=True).values_list("state", flat=True).get(pk=ticket.pk)
    return ticket.shop


def payment_values(payment: Payment) -> dict[str, str]:
    """What the history keeps of it."""
    return {"amount": plain_money(abs(payment.amount)), "currency": payment.currency, "how": str(payment.kind)}
