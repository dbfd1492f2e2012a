"""Mailing an order to its supplier: the list in words and as a file, through the outbox, once for each press meant."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from workshop.documents.purchase_list import list_csv, list_data
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.models import Message
from workshop.reminders.queueing import mail_domain
from workshop.staff.models import User
from workshop.stock.order_changes import mark_sent
from workshop.stock.purchase_models import OrderStep, PurchaseOrder
from workshop.stock.supplier_models import Supplier
from workshop.web.plain_text import one_line
from workshop.web.versions import take_version

_BACK = (Message.State.FAILED, Message.State.UNCERTAIN, Message.State.CALLED_OFF)
_OTHERWISE = (OrderStep.Kind.ADDED, OrderStep.Kind.CHANGED, OrderStep.Kind.CANCELLED)


class CannotMail(ValueError):
    """No email of this order can leave now; the message says why. Nothing was kept."""


@dataclass(frozen=True)
class OrderMail:
    """What the supplier reads, and to which address it goes."""

    to_address: str
    subject: str
    body: str


def order_mail(order: PurchaseOrder) -> OrderMail:
    """The order as it is now, in words."""
    data = list_data(order)
    supplier = Supplier.objects.filter(shop=order.shop_id, name=order.supplier).first()
    lines = [_line(line) for line in data["lines"]]
    without = f", without {data['uncosted']} of which we know no price" if data["uncosted"] else ""
    account = f"Our account with you: {data['account']}" if data["account"] else ""
    deliver_to = "\n".join(filter(None, ["Deliver to:", order.shop.name, order.shop.address]))
    greeting = f"Dear {order.supplier}," if order.supplier else "Hello,"
    parts = [
        greeting,
        "Please send us:",
        "\n".join(filter(None, [f"Order {order.number} of {order.shop.name}, {data['ordered']}", account])),
        "\n".join(lines),
        f"Total {data['total']}{without}" if data["uncosted"] < len(lines) else "",
        order.note,
        deliver_to,
        "The same list is attached as a CSV file.",
        f"Thank you and kind regards,\n{order.shop.name}",
    ]
    subject = one_line(f"{'Changed order' if _mailed(order) else 'Order'} {order.number} of {order.shop.name}")
    return OrderMail(supplier.email if supplier else "", subject[:200], "\n\n".join(filter(None, parts)))


def _line(line: dict[str, Any]) -> str:
    """“- 20 (2 × 10) your 4711, Wiper, 36 mm (our HL-36), 23.00 EUR”."""
    packs = f" ({line['packs']})" if line["packs"] else ""
    theirs = f"your {line['their_number']}" if line["their_number"] else ""
    named = ", ".join(filter(None, [theirs, line["title"], line["size"]]))
    return ", ".join(filter(None, [f"- {line['quantity']}{packs} {named} (our {line['number']})", line["cost"]]))


def why_not_mailed(order: PurchaseOrder, mail: OrderMail) -> str:
    """What keeps the email from leaving, in words; "" where nothing does."""
    if order.closed_at is not None:
        return "The order is closed."
    if not mail.to_address:
        return f"There is no email address for {order.supplier}. Enter it at the supplier."
    if wanting := why_no_mail(order.shop, with_link=False):
        return wanting
    last = order.messages.order_by("-pk").first()
    if last is None or last.state in _BACK or _changed_since(order, last):
        return ""
    return "It was mailed as it is now. Change it first to mail it again."


@transaction.atomic
def queue_order_mail(*, order: PurchaseOrder, seen_version: int, by: User | None) -> Message:
    """Put an order into the outbox, and note it as sent. Raises StaleVersion, or CannotMail."""
    take_version(order, seen_version)
    order.refresh_from_db()
    mail = order_mail(order)
    if wanting := why_not_mailed(order, mail):
        raise CannotMail(wanting)
    message = Message(
        shop=order.shop,
        order=order,
        kind=Message.Kind.ORDER,
        channel=Message.Channel.EMAIL,
        to_address=mail.to_address,
        subject=mail.subject,
        body=mail.body,
        attached=list_csv(order).decode("utf-8-sig"),
        message_id=f"<{uuid.uuid4()}@{mail_domain(order.shop)}>",
        queued_at=timezone.now(),
        queued_by=by,
    )
    message.full_clean(exclude=["shop", "order", "queued_by"], validate_constraints=False)
    message.save()
    if order.sent_at is None:
        mark_sent(order=order, seen_version=order.version, how=f"mail to {mail.to_address}", by=by)
    return message


def _mailed(order: PurchaseOrder) -> bool:
    return order.messages.exclude(state__in=_BACK).exists()


def _changed_since(order: PurchaseOrder, message: Message) -> bool:
    return order.steps.filter(kind__in=_OTHERWISE, at__gte=message.queued_at).exists()
