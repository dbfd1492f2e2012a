"""Notes on a ticket and the log of calls; who was reached when, and who was not for some days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Contact, Ticket

LONGEST_WORDS = 500
Kind, Outcome = Contact.Kind, Contact.Outcome
# What reached the customer as far as anybody can know: a voice, an email that left, a text somebody sent.
REACHED = (
    Q(kind=Kind.CALL, outcome=Outcome.REACHED)
    | Q(kind=Kind.READY_EMAIL, message__state="sent")
    | Q(kind=Kind.READY_TEXT)
)


@transaction.atomic
def add_note(*, ticket: Ticket, words: str, by: User | None) -> Contact:
    """Keep a note on a ticket, whatever its state; it stays where it is. Raises ValidationError beside `words`."""
    words = words.strip()
    if not words:
        raise ValidationError({"words": "Enter the note."})
    made = _keep(Contact(ticket=ticket, kind=Kind.NOTE, words=words, at=timezone.now(), by=by))
    log(ticket=ticket, by=by, kind="noted", values={"words": words})
    return made


@transaction.atomic
def log_call(
    *, ticket: Ticket, outcome: str, by: User | None, words: str = "", rang_at: dt.time | None = None
) -> Contact:
    """Write down a call and how it ended.

    Args:
        rang_at: the time of today it was, by the shop's clock; now where it is left out.

    Raises:
        ValidationError: beside its field, for an outcome that is none, or a time that is still to come.
    """
    if outcome not in Outcome.values:
        raise ValidationError({"outcome": "Say how the call ended: reached, no answer, or message left."})
    now = timezone.localtime()
    at = now if rang_at is None else now.replace(hour=rang_at.hour, minute=rang_at.minute, second=0, microsecond=0)
    if at > now:
        raise ValidationError({"rang_at": "That time is still to come."})
    made = _keep(Contact(ticket=ticket, kind=Kind.CALL, outcome=outcome, words=words.strip(), at=at, by=by))
    log(
        ticket=ticket,
        by=by,
        kind="rang",
        values={"outcome": outcome, "words": made.words, "time": f"{at.hour}:{at.minute:02d}"},
    )
    return made


def _keep(contact: Contact) -> Contact:
    if len(contact.words) > LONGEST_WORDS:
        raise ValidationError({"words": f"Keep it to {LONGEST_WORDS} characters."})
    contact.full_clean(exclude=["ticket", "by", "message"], validate_constraints=False)
    contact.save()
    return contact


def last_told(tickets: Iterable[Ticket]) -> dict[int, Contact]:
    """The last call or message of each ticket, by its key, with its email; one query."""
    keys = [ticket.pk for ticket in tickets]
    rows = Contact.objects.filter(ticket__in=keys).exclude(kind=Kind.NOTE).select_related("message", "by")
    return {contact.ticket_id: contact for contact in rows.order_by("at", "pk")} if keys else {}


def mark_told(tickets: Iterable[Ticket]) -> None:
    """Give rows of a list `told`, the last call or message, for templates/counter/_told.html; one query."""
    listed = list(tickets)
    known = last_told(listed)
    for ticket in listed:
        ticket.told = known.get(ticket.pk)  # type: ignore[attr-defined]


def reached_since(keys: Collection[int], since: dt.datetime) -> set[int]:
    """Which of these tickets' customers were reached since then; one query."""
    rows = Contact.objects.filter(REACHED, ticket__in=keys, at__gte=since).order_by()
    return set(rows.values_list("ticket", flat=True)) if keys else set()


def told_and_taken_back(ticket: Ticket, contacts: Iterable[Contact]) -> Contact | None:
    """The word that it is ready which holds no more: told before it left that state, and nobody rang since.

    `contacts` are the ticket's own, oldest first.
    """
    told = None
    for contact in contacts:
        if contact.ready_since is not None:
            told = contact if contact.ready_since != ticket.state_since else None
        elif contact.outcome == Outcome.REACHED and contact.at >= ticket.state_since:
            told = None
    return told if ticket.is_open else None
