"""Telling a customer that something is ready: by email in one press, or in words to copy for a text message."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext

from workshop.customers.language import language_of, speaking_to
from workshop.promise.opening import opening_of, opening_words
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.models import Message
from workshop.reminders.queueing import mail_domain
from workshop.reminders.ready_text import (
    DO_NOT_RIDE,
    DO_NOT_RIDE_OF,
    NOT_READY_YET,
    all_of,
    fill_ready,
    price_of_ready,
    ready_text_of,
    ready_values,
)
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Contact, Ticket
from workshop.web.plain_text import one_line
from workshop.work.unsafe import unsafe_of

LONGEST_SUBJECT = 200
_BACK = (Message.State.FAILED, Message.State.UNCERTAIN, Message.State.CALLED_OFF)


class CannotTell(ValueError):
    """It is not ready, or there is no way to reach the customer so; the message says which. Nothing was kept."""


class ToldAlready(ValueError):
    """This was told already, and a second message is not sent."""


@dataclass(frozen=True)
class ReadyWords:
    """What the customer is told, with each field filled in; `price` is "" where none stands yet."""

    subject: str
    body: str
    text: str
    price: str
    open_words: str


@dataclass(frozen=True)
class ToldReady:
    """What one message speaks of: the ready tickets of a visit, and those of it that are not ready yet."""

    ready: Sequence[Ticket]
    not_yet: Sequence[Ticket] = ()

    @property
    def keys(self) -> set[int]:
        return {ticket.pk for ticket in self.ready}


def told_together(ticket: Ticket) -> ToldReady:
    """A ready ticket with what else of its visit is ready, and what is not; by number. One query, none without one."""
    if ticket.visit_id is None:
        return ToldReady([ticket])
    of_visit = Ticket.objects.open().filter(visit=ticket.visit_id, customer=ticket.customer_id).exclude(pk=ticket.pk)
    others = of_visit.select_related("shop", "customer", "unit__model").order_by("number")
    together = sorted([ticket, *others], key=lambda one: one.number)
    return ToldReady(
        [one for one in together if one.state == Ticket.State.READY],
        [one for one in together if one.state != Ticket.State.READY],
    )


def ready_words(ticket: Ticket, told: ToldReady | None = None) -> ReadyWords:
    """The shop's wording for what is ready of a ticket's visit now. What must not be ridden and what is not ready yet
    is said, whatever the wording.
    """
    told = told or told_together(ticket)
    with speaking_to(ticket.customer):
        return _in_its_language(ticket, told)


def _in_its_language(ticket: Ticket, told: ToldReady) -> ReadyWords:
    wording, now = ready_text_of(ticket.shop), timezone.localtime()
    price = price_of_ready(told.ready)
    open_words = opening_words(opening_of(ticket.shop, now.date()), now)
    values = ready_values(told.ready, open_words=open_words, price=price)
    also = _said_anyway(told)
    body, text = (fill_ready(one, values) for one in (wording.body, wording.text))
    return ReadyWords(
        subject=one_line(fill_ready(wording.subject, values))[:LONGEST_SUBJECT],
        body="\n\n".join([body, *also]),
        text=" ".join([text, *also]),
        price=price,
        open_words=open_words,
    )


def _said_anyway(told: ToldReady) -> list[str]:
    unsafe = [one.unit.title for one in told.ready if unsafe_of(one).words]
    of_each = gettext(DO_NOT_RIDE_OF)
    also = [gettext(DO_NOT_RIDE)] if unsafe and len(told.ready) == 1 else [of_each.format(unit=one) for one in unsafe]
    if told.not_yet:
        also.insert(0, gettext(NOT_READY_YET).format(unit=all_of([one.unit.title for one in told.not_yet])))
    return also


def why_not_by_email(ticket: Ticket) -> str:
    """What keeps an email about a ticket from leaving, in words; "" where nothing does."""
    if not ticket.customer.email:
        return f"There is no email address for {ticket.customer}."
    return why_no_mail(ticket.shop, with_link=False)


def queue_ready_email(*, ticket: Ticket, by: User | None) -> Contact:
    """Put the word that a ticket is ready into the outbox. An email that came back is queued again, under its own name.

    Raises:
        CannotTell: it is not ready, has no address, or no email can leave from here.
        ToldAlready: an email says so already, and did not come back.
    """
    try:
        return _queue(ticket=ticket, by=by)
    except IntegrityError as error:  # pressed twice in the same moment: the database lets one through
        if not Contact.objects.filter(ticket=ticket, kind=Contact.Kind.READY_EMAIL).exists():
            raise
        raise ToldAlready("That was pressed twice: one email is on its way.") from error


@transaction.atomic
def _queue(*, ticket: Ticket, by: User | None) -> Contact:
    ticket, told = _held(ticket)
    _check_ready(ticket)
    if wanting := why_not_by_email(ticket):
        raise CannotTell(wanting)
    earlier = _emails_of(told.ready)
    ours = [one for one in earlier if one.ticket_id == ticket.pk]
    if ours and (said := _said_all(told, ours[-1], earlier)) is not None:
        return _again(ticket, ours[-1], said, by)
    words, reference = ready_words(ticket, told), uuid.uuid4()
    message = Message(
        shop=ticket.shop,
        customer=ticket.customer,
        unit=ticket.unit,
        language=language_of(ticket.customer),
        kind=Message.Kind.READY,
        channel=Message.Channel.EMAIL,
        to_address=ticket.customer.email,
        subject=words.subject,
        body=words.body,
        message_id=f"<{reference}@{mail_domain(ticket.shop)}>",
        queued_at=timezone.now(),
        queued_by=by,
    )
    message.full_clean(exclude=["shop", "customer", "unit", "queued_by"], validate_constraints=False)
    message.save()
    before = {one.ticket_id for one in earlier}
    return _keep(ticket, told, by, Contact.Kind.READY_EMAIL, words.body, words.price, message=message, before=before)


def _held(ticket: Ticket) -> tuple[Ticket, ToldReady]:
    """The ticket and its visit, held until the transaction ends; a row that was waited for is read once more."""
    fresh = Ticket.objects.only("visit_id").get(pk=ticket.pk)
    of_visit = Q(pk=ticket.pk) | (Q(visit=fresh.visit_id) if fresh.visit_id is not None else Q())
    list(Ticket.objects.select_for_update(no_key=True).filter(of_visit).order_by("pk").values_list("pk", flat=True))
    fresh = Ticket.objects.select_related("shop", "customer", "unit__model").get(pk=ticket.pk)
    return fresh, told_together(fresh)


def _emails_of(tickets: Sequence[Ticket]) -> list[Contact]:
    """The emails that told each of these as it is ready now, oldest first."""
    since = {ticket.pk: ticket.state_since for ticket in tickets}
    rows = Contact.objects.filter(ticket__in=since, kind=Contact.Kind.READY_EMAIL).select_related("message")
    return [one for one in rows.order_by("pk") if one.ready_since == since[one.ticket_id]]


def _said_all(told: ToldReady, last: Contact, earlier: Sequence[Contact]) -> Message | None:
    """The message that says already what would be told now; None where a new one is to say it."""
    if last.message is None:
        return None
    if last.message.state in _BACK:  # it goes out once more where it still says what holds
        spoke_of = set(Contact.objects.filter(message=last.message_id).values_list("ticket", flat=True))
        return last.message if spoke_of == told.keys else None
    known = {one.ticket_id for one in earlier if one.message is not None and one.message.state not in _BACK}
    return last.message if told.keys <= known else None


def _again(ticket: Ticket, told: Contact, message: Message, by: User | None) -> Contact:
    """The same message once more, to the address as it is now."""
    if message.state not in _BACK:
        at = timezone.localtime(told.at)
        raise ToldAlready(f"The email that says so is from {at.hour}:{at.minute:02d} on {at.day} {at:%B}. Sent once.")
    Message.objects.filter(pk=message.pk, state__in=_BACK).update(
        state=Message.State.QUEUED,
        to_address=ticket.customer.email,
        problem="",
        attempts=0,
        not_before=None,
        claim=None,
    )
    for contact in message.contacts.select_related("ticket"):
        log(ticket=contact.ticket, by=by, kind="told_ready_again")
    return told


@transaction.atomic
def tell_ready_by_text(*, ticket: Ticket, words: str, by: User | None) -> Contact:
    """Write down that somebody sent a text message of these words, on each ready ticket of the visit.

    Raises CannotTell or ValidationError.
    """
    ticket, told = _held(ticket)
    _check_ready(ticket)
    if not words.strip():
        raise ValidationError({"words": "Enter what was sent."})
    return _keep(ticket, told, by, Contact.Kind.READY_TEXT, words.strip(), price_of_ready(told.ready))


def _check_ready(ticket: Ticket) -> None:
    if ticket.state != Ticket.State.READY:
        raise CannotTell(f"It is {ticket.state_words.lower()}, not ready. Nothing was sent.")


def _keep(
    ticket: Ticket,
    told: ToldReady,
    by: User | None,
    kind: Contact.Kind,
    words: str,
    price: str,
    *,
    message: Message | None = None,
    before: Collection[int] = (),
) -> Contact:
    """A row on each ticket that was told; returns the one of `ticket`."""
    now, made = timezone.now(), {}
    for one in told.ready:
        made[one.pk] = Contact.objects.create(
            ticket=one,
            kind=kind,
            words=words,
            ready_since=one.state_since,
            message=message,
            again=one.pk in before,
            at=now,
            by=by,
        )
        log(ticket=one, by=by, kind="told_ready", values={"way": str(kind), "price": price})
    return made[ticket.pk]
