"""Taking something off a ticket's charges, as a line with a reason, before it is handed over."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.labour import hold_open_for_labour
from workshop.charges.models import Discount
from workshop.charges.sums import NOTHING, Charges
from workshop.charges.ticket_charges import charges_of
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.number_words import plain_money, shop_money


@transaction.atomic
def give_discount(*, ticket: Ticket, off: str, amount: Decimal, reason: str, by: User | None) -> Discount:
    """Take something off. The same again for the same reason is no second one.

    Raises:
        ValidationError: nothing or less, more than it comes off, without a reason, or handed back.
    """
    hold_open_for_labour(ticket)
    reason = reason.strip()
    if not reason:
        raise ValidationError({"reason": "Say why; the receipt prints it."})
    if amount <= 0:
        raise ValidationError({"amount": "Enter how much is taken off, above zero."})
    same = Discount.objects.filter(ticket=ticket, off=off, amount=amount, reason=reason, dropped=False).first()
    if same is not None:
        return same
    there = _comes_to(charges_of(ticket), off)
    if amount > there:
        most = shop_money(max(there, NOTHING), ticket.shop)
        of_what = str(Discount.Off(off).label).lower() if off in Discount.Off.values else "it"
        raise ValidationError({"amount": f"No more than {most} can be taken {of_what}."})
    discount = Discount(ticket=ticket, off=off, amount=amount, reason=reason, by=by, at=timezone.now())
    discount.full_clean(exclude=["ticket", "by"], validate_constraints=False)
    discount.save()
    log(ticket=ticket, by=by, kind="discount_given", values=_values(discount))
    return discount


@transaction.atomic
def drop_discount(*, discount: Discount, by: User | None) -> None:
    """Not taken off after all. Dropped twice is dropped once; ValidationError once it is handed back."""
    hold_open_for_labour(discount.ticket)
    if Discount.objects.filter(pk=discount.pk, dropped=False).update(dropped=True):
        log(ticket=discount.ticket, by=by, kind="discount_dropped", values=_values(discount))


def check_not_below_nothing(charges: Charges) -> None:
    """Raise ValidationError where more is taken off than there is, since a line was dropped after the discount."""
    if any(_comes_to(charges, off) < 0 for off in Discount.Off.values):
        raise ValidationError("More is taken off than it comes to. Remove the discount, or make it smaller.")


def _comes_to(charges: Charges, off: str) -> Decimal:
    """What the lines come to that a discount comes off, as their prices stand."""
    return sum((line.amount for line in charges.lines if line.kind == off and line.amount is not None), NOTHING)


def _values(discount: Discount) -> dict[str, str]:
    return {
        "reason": discount.reason,
        "amount": plain_money(discount.amount),
        "currency": discount.ticket.shop.currency,
    }
