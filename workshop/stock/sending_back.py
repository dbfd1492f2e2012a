"""What goes back to a supplier, and the money that comes back; each is taken back by a counter-entry."""

from __future__ import annotations

import uuid
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from workshop.staff.models import User
from workshop.stock.amounts import measured
from workshop.stock.delivery_models import DeliveryLine, SentBack, SupplierCredit
from workshop.stock.moving import NOTHING, book_back, send_out
from workshop.stock.order_standing import (
    add_to_ordered,
    came_of,
    check_amount,
    price_of_pack,
    set_ordered,
    settle_orders,
)
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stock.receiving import unusable_of
from workshop.web.number_words import money_figures
from workshop.web.versions import StaleVersion, take_version

MOST_MONEY = Decimal("999999.99")


@transaction.atomic
def send_back(
    *,
    order: PurchaseOrder,
    seen_version: int,
    line: OrderLine,
    what: str,
    quantity: Decimal,
    reason: str,
    replaced: bool,
    by: User | None,
    sent_id: uuid.UUID | None = None,
) -> SentBack:
    """Goods go back. With `replaced` others are to come for them; else they are no longer ordered.

    Raises:
        StaleVersion: the order was changed meanwhile; the same `sent_id` again is answered like the first.
        NotEnoughInStock: they are not in the stores any more.
        ValidationError: no reason, or more than is there of it.
    """
    try:
        take_version(order, seen_version)
    except StaleVersion:
        booked = SentBack.objects.filter(line__order=order, sent_id=sent_id).first() if sent_id else None
        if booked is not None:
            return booked
        raise
    line = order.lines.select_related("item__part", "order").get(pk=line.pk)
    came, good = came_of(order)[line.pk], what == SentBack.What.GOOD
    here = came if good else unusable_of(order).get(line.pk, NOTHING)
    _check(line, quantity, here, reason)
    net = came - quantity if good else came
    # Nobody owes what is paid back; what came beyond the order was never owed.
    is_now = line.ordered if replaced else min(line.ordered, max(net, line.ordered - quantity))
    back = SentBack(
        line=line, what=what, quantity=quantity, reason=reason.strip()[:120], replaced=replaced,
        reduced=line.ordered - is_now, sent_id=sent_id or uuid.uuid4(), by=by, at=timezone.now(),
    )  # fmt: skip
    back.full_clean(exclude=["line", "by", "undone_by"], validate_constraints=False)
    back.save()
    if good:
        send_out(line=line, quantity=quantity, by=by, note=reason)
    set_ordered(line, is_now)
    settle_orders(order, by, reopen=True)
    return back


def _check(line: OrderLine, quantity: Decimal, here: Decimal, reason: str) -> None:
    part = line.item.part
    if quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero."})
    try:
        check_amount(part, quantity)
    except ValidationError as refused:
        raise ValidationError({"quantity": refused.messages}) from None
    if quantity > here:
        raise ValidationError(
            {"quantity": f"Of this order {measured(here, part)} can go back, not {measured(quantity, part)}."}
        )
    if not reason.strip():
        raise ValidationError({"reason": "Say why it goes back."})


@transaction.atomic
def keep_after_all(*, order: PurchaseOrder, seen_version: int, back: SentBack, by: User | None) -> SentBack:
    """It did not go back. Raises StaleVersion, ValidationError where that was said already."""
    take_version(order, seen_version)
    back = SentBack.objects.select_for_update(of=("self",)).select_related("line__item", "line__order").get(
        pk=back.pk, line__order=order
    )  # fmt: skip
    if back.undone_at is not None:
        raise ValidationError("That was taken back already.")
    back.undone_at, back.undone_by = timezone.now(), by
    back.save(update_fields=["undone_at", "undone_by"])
    if back.what == SentBack.What.GOOD:
        book_back(line=back.line, quantity=back.quantity, by=by)
    add_to_ordered(back.line, back.reduced)
    settle_orders(order, by, reopen=True)
    return back


@transaction.atomic
def note_credit(
    *,
    order: PurchaseOrder,
    seen_version: int,
    amount: Decimal,
    note: str,
    by: User | None,
    sent_id: uuid.UUID | None = None,
) -> SupplierCredit:
    """The supplier gave money back. Raises StaleVersion, ValidationError beyond what the order's goods cost."""
    try:
        take_version(order, seen_version)
    except StaleVersion:
        booked = SupplierCredit.objects.filter(order=order, sent_id=sent_id).first() if sent_id else None
        if booked is not None:
            return booked
        raise
    if not 0 < amount <= MOST_MONEY:
        raise ValidationError({"amount": "Enter an amount above zero."})
    if not note.strip():
        raise ValidationError({"note": "Enter the number of the credit note, or what it is for."})
    cost = cost_of_what_came(order)
    left = None if cost is None else cost - credited(order)
    if left is not None and amount > left:
        known = money_figures(cost or NOTHING)
        raise ValidationError(
            {"amount": f"What came of this order cost {known}; {money_figures(left)} of it can still be credited."}
        )
    made = SupplierCredit(
        order=order, amount=amount, note=note.strip()[:120], sent_id=sent_id or uuid.uuid4(), by=by, at=timezone.now()
    )
    made.full_clean(exclude=["order", "by"], validate_constraints=False)
    made.save()
    return made


@transaction.atomic
def take_credit_back(
    *, order: PurchaseOrder, seen_version: int, credit: SupplierCredit, by: User | None
) -> SupplierCredit:
    """A credit was noted by mistake: its counter-entry. Raises StaleVersion, ValidationError where it has one."""
    take_version(order, seen_version)
    credit = order.credits.get(pk=credit.pk)
    if credit.amount < 0 or SupplierCredit.objects.filter(takes_back=credit).exists():
        raise ValidationError("That credit is taken back already.")
    return SupplierCredit.objects.create(
        order=order, amount=-credit.amount, takes_back=credit, note=f"Taken back: {credit.note}"[:120], by=by,
        at=timezone.now(),
    )  # fmt: skip


def credited(order: PurchaseOrder) -> Decimal:
    """What the supplier gave back of an order, in its currency."""
    return order.credits.aggregate(total=Sum("amount"))["total"] or NOTHING


def cost_of_what_came(order: PurchaseOrder) -> Decimal | None:
    """What was asked for all that came, good or not, to the cent; None where the price of something is not known."""
    total = NOTHING
    rows = DeliveryLine.objects.filter(delivery__order=order, delivery__undone_at__isnull=True).select_related("line")
    for one in rows:
        pack_price = price_of_pack(one.line) if one.pack_price is None else one.pack_price
        if pack_price is None:
            return None
        total += (one.good + one.damaged + one.wrong) * pack_price / one.line.pack
    return total.quantize(Decimal("0.01"))
