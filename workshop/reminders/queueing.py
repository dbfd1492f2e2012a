"""Approving reminders: a message is queued together with the services it tells of, or not at all."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from workshop.customers.language import language_of, speaking_to
from workshop.reminders.calendar_file import calendar_entry
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.due import DueKey, DueRow
from workshop.reminders.models import Decision, Message, RemindedService
from workshop.staff.models import Shop, User
from workshop.stock.supplier_models import Supplier
from workshop.web.plain_text import one_line
from workshop.web.plausible_days import DayKind, refuse_day

Channel, State = Message.Channel, Message.State


class AlreadyTold(ValueError):
    """Another message tells of one of these services already."""


class CannotRemind(ValueError):
    """The customer did not agree, or cannot be reached this way; the message says which."""


@transaction.atomic
def queue_reminder(*, row: DueRow, channel: str, subject: str, body: str, stop_url: str, by: User | None) -> Message:
    """Put an approved reminder into the outbox.

    Args:
        stop_url: the whole address of the link that stops reminders.

    Raises:
        CannotRemind: no agreement, no address, or no way to send email from here.
        AlreadyTold: somebody was quicker.
        ValidationError: the text is empty or too long.
    """
    check_reachable(row, channel)
    shop, now = row.unit.shop, timezone.now()
    reference = uuid.uuid4()
    entry_on = max(row.first.due, timezone.localdate() + dt.timedelta(days=7))
    with speaking_to(row.customer):
        summary = gettext("%(service)s: %(unit)s") % {
            "service": row.service_words.capitalize(),
            "unit": row.unit.title,
        }
        due_by = gettext("Due by %(day)s. Call %(shop)s for a day: %(phone)s") % {
            "day": date_format(row.first.due, "j M Y"),
            "shop": shop.name,
            "phone": shop.phone,
        }
    message = Message(
        shop=shop,
        customer=row.customer,
        unit=row.unit,
        language=language_of(row.customer),
        channel=channel,
        to_address=row.customer.email if channel == Channel.EMAIL else row.customer.address,
        subject=one_line(subject),
        body=body.strip(),
        stop_url=stop_url,
        due_on=row.first.due,
        calendar=calendar_entry(
            uid=f"{reference}@{mail_domain(shop)}",
            on=entry_on,
            summary=summary,
            description=due_by,
            location=", ".join([shop.name, *shop.address.splitlines()]),
            made_at=now,
        ),
        message_id=f"<{reference}@{mail_domain(shop)}>",
        queued_at=now,
        queued_by=by,
    )
    # The address is ours; a shop on its own network may have a host without a dot, which a URLField refuses.
    # The subject is one line by now, the state the first one: the constraints would be a statement each, for nothing.
    message.full_clean(exclude=["shop", "customer", "unit", "queued_by", "stop_url"], validate_constraints=False)
    message.save()
    services = [
        RemindedService(message=message, unit_id=unit_pk, level=level, counted_from=counted_from)
        for unit_pk, level, counted_from in row.keys
    ]
    try:
        with transaction.atomic():
            RemindedService.objects.bulk_create(services)
    except IntegrityError:
        raise AlreadyTold(f"A reminder for the {row.unit.title} of {row.customer} is on its way already.") from None
    return message


def check_reachable(row: DueRow, channel: str) -> None:
    """Raise CannotRemind unless this customer may be reminded this way."""
    if not row.customer.agreed_to_reminders:
        raise CannotRemind(f"{row.customer} has not agreed to reminders.")
    if channel not in row.channels:
        missing = "email address" if channel == Channel.EMAIL else "postal address"
        raise CannotRemind(f"There is no {missing} for {row.customer}.")
    if channel == Channel.EMAIL and (wanting := why_no_mail(row.unit.shop)):
        raise CannotRemind(f"{wanting} Letters can be printed meanwhile.")


@transaction.atomic
def decide(*, keys: Iterable[DueKey], snoozed_until: dt.date | None, by: User | None) -> None:
    """Put services off until a day, or with None skip them for good."""
    if snoozed_until is not None:
        refuse_day("until", snoozed_until, DayKind.PUT_OFF)
    for unit_pk, level, counted_from in keys:
        Decision.objects.update_or_create(
            unit_id=unit_pk,
            level=level,
            counted_from=counted_from,
            defaults={"snoozed_until": snoozed_until, "by": by, "at": timezone.now()},
        )


@transaction.atomic
def undecide(*, keys: Iterable[DueKey]) -> None:
    """Bring services back to the list."""
    for unit_pk, level, counted_from in keys:
        Decision.objects.filter(unit_id=unit_pk, level=level, counted_from=counted_from).delete()


@transaction.atomic
def call_off(*, message: Message) -> bool:
    """Take back a message that has not left, and let its services be told again. False where it was too late."""
    stopped = Message.objects.filter(pk=message.pk, state__in=[State.QUEUED, State.FAILED]).update(
        state=State.CALLED_OFF
    )
    if stopped:
        RemindedService.objects.filter(message=message).delete()
    return bool(stopped)


@transaction.atomic
def send_again(*, message: Message) -> bool:
    """Queue a message that came back or was cut off, to the address as it is now; it keeps its Message-ID."""
    address = _address_now(message)
    stopped = message.customer is not None and not message.customer.agreed_to_reminders
    if not address or (message.kind == Message.Kind.REMINDER and stopped):
        return False
    return bool(
        Message.objects.filter(pk=message.pk, state__in=[State.FAILED, State.UNCERTAIN]).update(
            state=State.QUEUED, to_address=address, problem="", attempts=0, not_before=None, claim=None
        )
    )


def _address_now(message: Message) -> str:
    """Where a message would go today: an order to its supplier, anything else to its customer."""
    if message.customer is not None:
        return message.customer.email if message.channel == Channel.EMAIL else message.customer.address
    named = message.order.supplier if message.order is not None else ""
    return Supplier.objects.filter(shop=message.shop_id, name=named).values_list("email", flat=True).first() or ""


@transaction.atomic
def mark_message_sent(*, message: Message) -> bool:
    """A letter was posted, or a message that was cut off is known to have arrived."""
    may = [State.UNCERTAIN] if message.channel == Channel.EMAIL else [State.QUEUED]
    return bool(
        Message.objects.filter(pk=message.pk, state__in=may).update(
            state=State.SENT, sent_at=timezone.now(), problem=""
        )
    )


def mail_domain(shop: Shop) -> str:
    """The domain of the shop's address, for names that must be the shop's own."""
    return shop.email.rpartition("@")[2] or "workshop.invalid"
