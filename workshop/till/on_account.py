"""One payment over several hand-overs of a customer that were left open, such as a company's at the end of a month."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.charges.sums import NOTHING
from workshop.customers.merged import who_stands
from workshop.customers.models import Customer
from workshop.staff.models import User
from workshop.tickets.booking import hold_numbers
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.till.models import Payment, Receipt, ReceiptTicket
from workshop.till.standing import OpenSum, open_sums
from workshop.till.taking import PaidPart, payment_values, shared_out, write_payment
from workshop.web.number_words import shop_money


@dataclass(frozen=True)
class OpenReceipt:
    """A hand-over that is not paid in full, with the number of its receipt; "" where none is issued."""

    sum: OpenSum
    receipt: str

    @property
    def seen(self) -> str:
        """What a page sends: so that what was paid meanwhile is not paid twice."""
        return f"{self.sum.ticket.number}:{self.sum.amount}"


def open_receipts(customer: Customer) -> list[OpenReceipt]:
    """What a customer still has to pay, the oldest first; five queries."""
    sums = [one for one in open_sums(customer.shop, customer) if one.amount > 0]
    shares = ReceiptTicket.objects.filter(
        hand_over__in=[one.hand_over for one in sums if one.hand_over is not None], kind=Receipt.Kind.RECEIPT
    )
    numbers = {share.hand_over_id: share.receipt.number_words for share in shares.select_related("receipt")}
    return [OpenReceipt(one, numbers.get(one.hand_over.pk, "") if one.hand_over else "") for one in sums]


@transaction.atomic
def pay_open(
    *,
    customer: Customer,
    chosen: Sequence[str],
    kind: str,
    amount: Decimal | None,
    given: Decimal | None = None,
    client_id: uuid.UUID,
    by: User | None,
) -> list[Payment]:
    """Book one payment over what is chosen, the oldest first: an entry on each ticket, all under one id.

    Sent again it is what was booked.

    Args:
        chosen: `seen` of each OpenReceipt that it is for.
        amount: None for all that is chosen.

    Raises:
        ValidationError: nothing chosen, one of it changed meanwhile, nothing or more than is open, or less cash.
    """
    hold_numbers(customer.shop)
    if made := list(Payment.objects.filter(shop=customer.shop, client_id=client_id).order_by("part")):
        return made
    standing = {one.seen: one.sum for one in open_receipts(who_stands(customer))}
    if not chosen:
        raise ValidationError({"chosen": "Choose what it pays."})
    if any(seen not in standing for seen in chosen):
        raise ValidationError({"chosen": "One of these was paid or changed meanwhile. Look at what is open now."})
    sums = [one for seen, one in standing.items() if seen in chosen]
    due = sum((one.amount for one in sums), NOTHING)
    part = PaidPart(kind, due if amount is None else amount, given if kind == Payment.Kind.CASH else None)
    if part.amount <= 0:
        raise ValidationError({"amount": "Enter an amount above zero."})
    if part.amount > due:
        raise ValidationError(
            {"amount": f"This is more than is open: {shop_money(due, customer.shop, sums[0].currency)}."}
        )
    if part.given is not None and part.given < part.amount:
        raise ValidationError({"given": "This is less than what is paid."})
    keys = [one.ticket.pk for one in sums]
    list(Ticket.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk").values_list("pk", flat=True))
    booked: list[Payment] = []
    for one, pieces in zip(sums, shared_out([part], [one.amount for one in sums]), strict=True):
        for piece in pieces:
            payment = write_payment(
                ticket=one.ticket,
                part=piece,
                client_id=client_id,
                hand_over=one.hand_over,
                by=by,
                number=len(booked),
            )
            log(ticket=one.ticket, by=by, kind="paid", values=payment_values(payment))
            booked.append(payment)
    return booked
