"""Sending what waits in the outbox, each message once, also when a sender is killed half way.

A message is claimed by a conditional update, so that two senders never hold the same one, and it is marked as being
handed over before the first byte leaves. A sender killed before that mark has sent nothing: its claim runs out and the
message is queued again. A sender killed after it may or may not have sent it. Where the taker knows a message by its
Message-ID (the demo's files, a provider that says so) it is handed over again under the same Message-ID; elsewhere it
is put before the owner as cut off, and never sent again by itself.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Count, F, Q, QuerySet
from django.utils import timezone

from workshop.reminders.delivery import (
    CutOff,
    MailDelivery,
    MailNotSetUp,
    NotNow,
    Refused,
    delivery_for,
    email_of,
    why_no_mail,
)
from workshop.reminders.models import Message, RemindedService
from workshop.staff.models import Shop
from workshop.tickets.models import Contact

CLAIM_LASTS = dt.timedelta(minutes=10)
MOST_ATTEMPTS = 5
State = Message.State
_NOT_SENT = (State.QUEUED, State.CLAIMED, State.HANDING_OVER, State.FAILED, State.UNCERTAIN)


@dataclass
class SendReport:
    """How many left, came back, wait for another try, or were cut off or cancelled."""

    sent: int = 0
    failed: int = 0
    later: int = 0
    cut_off: int = 0
    called_off: int = 0

    @property
    def handled(self) -> int:
        return self.sent + self.failed + self.later + self.cut_off + self.called_off


def waiting_emails(shop: Shop, only: int | None = None) -> QuerySet[Message]:
    """Emails that may be sent now; with `only` at most the one of that key."""
    messages = Message.objects.filter(shop=shop) if only is None else Message.objects.filter(shop=shop, pk=only)
    return messages.filter(channel=Message.Channel.EMAIL, state=State.QUEUED).filter(
        Q(not_before__isnull=True) | Q(not_before__lte=timezone.now())
    )


@dataclass(frozen=True)
class Outbox:
    """How many emails of a shop may go now, wait for another try, are being sent, or came back or were cut off."""

    waiting: int
    later: int
    under_way: int
    unsettled: int

    @property
    def is_empty(self) -> bool:
        return not (self.waiting or self.later or self.under_way or self.unsettled)


def outbox_of(shop: Shop) -> Outbox:
    """In one query."""
    later = Q(state=State.QUEUED, not_before__gt=timezone.now())
    counts = Message.objects.filter(shop=shop, channel=Message.Channel.EMAIL, state__in=_NOT_SENT).aggregate(
        waiting=Count("pk", filter=Q(state=State.QUEUED) & ~later),
        later=Count("pk", filter=later),
        under_way=Count("pk", filter=Q(state__in=[State.CLAIMED, State.HANDING_OVER])),
        unsettled=Count("pk", filter=Q(state__in=[State.FAILED, State.UNCERTAIN])),
    )
    return Outbox(**counts)


def send_waiting(
    *,
    shop: Shop,
    most: int | None = None,
    only: int | None = None,
    delivery: MailDelivery | None = None,
    progress: Callable[[SendReport], None] = lambda report: None,
) -> SendReport:
    """Send the shop's waiting emails, `most` of them or all. Not inside a transaction: each step must last.

    Those of a shop that is suspended or closed go on waiting; one that is being handed over at that moment leaves.

    Args:
        only: the key of the one message to send, where it waits.
        progress: called after each message.

    Raises:
        MailNotSetUp: emails wait, and there is no way to send them from here; they go on waiting.
    """
    way = delivery or delivery_for(shop)
    release_stale_claims(shop=shop, repeat_is_harmless=way.repeat_is_harmless)
    report = SendReport()
    if not _may_leave(shop, only).exists():
        return report
    if delivery is None and (wanting := why_no_mail(shop, with_link=only is None)):
        raise MailNotSetUp(wanting)
    try:
        way.open()
    except NotNow as problem:
        report.later = _put_off_all(shop, str(problem), only)
        return report
    try:
        while (most is None or report.handled < most) and (message := _claim_next(shop, only)) is not None:
            cut_off_before = report.cut_off
            _send(message, way, report)
            progress(report)
            if report.cut_off > cut_off_before:  # that line is dead: the others go out over a new one
                way.close()
                way.open()
    except NotNow as problem:
        report.later += _put_off_all(shop, str(problem), only)
    finally:
        way.close()
    return report


def release_stale_claims(*, shop: Shop, repeat_is_harmless: bool, now: dt.datetime | None = None) -> None:
    """Look after messages whose sender went away."""
    before = (now or timezone.now()) - CLAIM_LASTS
    stale = Message.objects.filter(shop=shop, claimed_at__lt=before)
    stale.filter(state=State.CLAIMED).update(state=State.QUEUED, claim=None)
    half_way = stale.filter(state=State.HANDING_OVER)
    if repeat_is_harmless:
        half_way.update(state=State.QUEUED, claim=None)
    else:
        half_way.update(state=State.UNCERTAIN, claim=None, problem="The sender was cut off; it may have arrived.")


def _may_leave(shop: Shop, only: int | None = None) -> QuerySet[Message]:
    """Asked anew before each message, so that a suspension holds from the next one on."""
    return waiting_emails(shop, only).filter(shop__suspended_at__isnull=True, shop__closed_at__isnull=True)


def _claim_next(shop: Shop, only: int | None = None) -> Message | None:
    while True:
        pk = _may_leave(shop, only).values_list("pk", flat=True).first()
        if pk is None:
            return None
        claim = uuid.uuid4()
        won = Message.objects.filter(pk=pk, state=State.QUEUED).update(
            state=State.CLAIMED, claim=claim, claimed_at=timezone.now(), attempts=F("attempts") + 1
        )
        if won:
            return Message.objects.select_related("shop", "customer", "order").get(pk=pk)


def _send(message: Message, way: MailDelivery, report: SendReport) -> None:
    if problem := _why_call_off(message):
        _finish(message, State.CALLED_OFF, problem=problem)
        report.called_off += 1
        return
    email = email_of(message)
    if not _mine(message).filter(state=State.CLAIMED).update(state=State.HANDING_OVER):
        return  # the claim ran out, and somebody else has it
    try:
        way.hand_over(email)
    except Refused as problem:
        _finish(message, State.FAILED, problem=str(problem))
        report.failed += 1
    except NotNow as problem:
        _try_later(message, str(problem))
        report.later += 1
    except CutOff as problem:
        _finish(message, State.QUEUED if way.repeat_is_harmless else State.UNCERTAIN, problem=str(problem))
        report.cut_off += 1
    else:
        _finish(message, State.SENT, sent_at=timezone.now())
        report.sent += 1


def _why_call_off(message: Message) -> str:
    """What became untrue or unwanted since it was let go, in words; "" where nothing did."""
    if message.order is not None:
        return "" if message.order.closed_at is None else "The order was closed before the email was to leave."
    if message.kind == Message.Kind.REMINDER and message.customer is not None:
        return "" if message.customer.agreed_to_reminders else "The customer stopped reminders."
    told = list(Contact.objects.select_related("ticket__unit__model").filter(message=message))
    gone = [one.ticket.unit.title for one in told if one.ticket.state_since != one.ready_since]
    if len(told) > 1 and gone:  # what it says of the others, and the sum, holds no more either
        return f"No longer ready when the email was to leave: {', '.join(gone)}."
    return "" if told and not gone else "It was no longer ready when the email was to leave."


def _mine(message: Message) -> QuerySet[Message]:
    """The message, as long as this sender's claim on it holds."""
    return Message.objects.filter(pk=message.pk, claim=message.claim)


@transaction.atomic
def _finish(message: Message, state: str, *, problem: str = "", sent_at: dt.datetime | None = None) -> None:
    later = timezone.now() + dt.timedelta(minutes=5) if state == State.QUEUED else None
    done = _mine(message).update(state=state, problem=problem[:300], sent_at=sent_at, claim=None, not_before=later)
    if done and state == State.CALLED_OFF:
        RemindedService.objects.filter(message=message).delete()


def _try_later(message: Message, problem: str) -> None:
    """Twice as long after each attempt; after the last one the owner decides."""
    if message.attempts >= MOST_ATTEMPTS:
        _finish(message, State.FAILED, problem=problem)
        return
    wait = dt.timedelta(minutes=5 * 2**message.attempts)
    _mine(message).update(state=State.QUEUED, claim=None, not_before=timezone.now() + wait, problem=problem[:300])


def _put_off_all(shop: Shop, problem: str, only: int | None = None) -> int:
    """The server cannot be reached: nothing left, no attempt is counted."""
    return waiting_emails(shop, only).update(problem=problem[:300], not_before=timezone.now() + dt.timedelta(minutes=5))
