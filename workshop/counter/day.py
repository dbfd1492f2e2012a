"""What the counter needs to know first in the morning and at any minute of the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils import timezone

from workshop.charges.answers import answered_tickets, with_answer
from workshop.promise.expected import stores_for_promises
from workshop.promise.honest import mark_promises, promises_in_danger
from workshop.promise.queued import IN_WORK, queued_tickets
from workshop.reminders.ready_text import ready_text_of
from workshop.staff.models import Shop
from workshop.tickets.contacts import mark_told, reached_since
from workshop.tickets.inside import Chosen, TicketInside, choose_inside, ticket_rows, tickets_inside, waits_for_parts
from workshop.tickets.models import StateMove, Ticket
from workshop.tickets.visit_rows import mark_visits
from workshop.work.unsafe import mark_unsafe

MOST_ROWS = 15
LATELY = 8
State = Ticket.State


@dataclass(frozen=True)
class Day:
    """The lists of the counter's first page, each cut to what is read at a glance, and how long each really is."""

    ready: Sequence[Ticket]
    unanswered: Sequence[Ticket]
    answered: Sequence[Ticket]
    lately: Sequence[Ticket]
    unreached: Sequence[Ticket]
    unreached_days: int
    ready_count: int
    late_count: int
    unanswered_count: int
    unreached_count: int
    open_count: int


@dataclass(frozen=True)
class Outlook:
    """What the stores and the queue at the bench mean for promises."""

    parts_here: Sequence[Ticket]
    in_danger: Sequence[Ticket]
    in_danger_count: int


def day_at_the_counter(shop: Shop, today: dt.date) -> Day:
    """Ready to hand back; answered or not, or not reached; booked in lately. Eight queries."""
    inside, answers = tickets_inside(shop), answered_tickets(shop)
    ready = choose_inside(inside, lambda ticket: ticket.state == State.READY, MOST_ROWS, by="state_since")
    unanswered = choose_inside(
        inside, lambda ticket: _is_asked(ticket) and ticket.pk not in answers, MOST_ROWS, by="state_since"
    )
    answered = choose_inside(inside, lambda ticket: ticket.pk in answers, MOST_ROWS)
    lately = list(Ticket.objects.of_shop(shop).order_by("-number").values_list("pk", flat=True)[:LATELY])
    days = ready_text_of(shop).unreached_days
    unreached = _not_reached(inside, answers, days)
    every = [*ready.shown, *unanswered.shown, *answered.shown, *unreached.shown, *lately]
    rows = ticket_rows(every, with_answer(with_reason(Ticket.objects.for_rows("customer__email", "visit"))))
    mark_told(rows[pk] for pk in {*ready.shown, *unanswered.shown, *unreached.shown})
    mark_visits(rows[pk] for pk in {*ready.shown, *unreached.shown})
    return Day(
        ready=[rows[pk] for pk in ready.shown],
        unanswered=[rows[pk] for pk in unanswered.shown],
        answered=[rows[pk] for pk in answered.shown],
        lately=[rows[pk] for pk in lately],
        unreached=[rows[pk] for pk in unreached.shown],
        unreached_days=days,
        ready_count=ready.count,
        late_count=sum(ticket.state in IN_WORK and ticket.promised_on < today for ticket in inside),
        unanswered_count=unanswered.count,
        unreached_count=unreached.count,
        open_count=len(inside),
    )


def outlook_at_the_counter(shop: Shop, today: dt.date) -> Outlook:
    """Tickets whose parts have come, and promises that will not hold as things stand."""
    tickets = queued_tickets(shop)
    stores = stores_for_promises(shop, tickets)
    dangers = promises_in_danger(shop, today, stores, tickets)
    shown = [danger.ticket_pk for danger in dangers[:MOST_ROWS]]
    with_parts = stores.standing.parts_here()
    here = [ticket.pk for ticket in tickets if waits_for_parts(ticket) and ticket.pk in with_parts][:MOST_ROWS]
    rows = ticket_rows([*here, *shown])
    mark_promises(rows.values(), dangers)
    mark_unsafe(rows.values())
    return Outlook(
        parts_here=[rows[pk] for pk in here],
        in_danger=[rows[pk] for pk in shown],
        in_danger_count=len(dangers),
    )


def late(today: dt.date) -> Q:
    """Promised for a day that is over, and not ready."""
    return Q(state__in=IN_WORK, promised_on__lt=today)


def _not_reached(inside: Sequence[TicketInside], answers: set[int], days: int) -> Chosen:
    """Ready, or waiting for an answer, for so many days, and nobody reached in as many; the longest first."""
    since = timezone.now() - dt.timedelta(days=days)
    long = [
        ticket
        for ticket in inside
        if ticket.state_since <= since
        and (ticket.state == State.READY or (_is_asked(ticket) and ticket.pk not in answers))
    ]
    reached = reached_since([ticket.pk for ticket in long], since)
    return choose_inside(long, lambda ticket: ticket.pk not in reached, MOST_ROWS, by="state_since")


def _is_asked(ticket: TicketInside) -> bool:
    return ticket.state == State.WAITING and ticket.waiting_for == Ticket.WaitingFor.CUSTOMER


def with_reason(tickets: QuerySet[Ticket]) -> QuerySet[Ticket]:
    """With `reason`: what was said at the last move."""
    last = StateMove.objects.filter(ticket=OuterRef("pk")).order_by("-pk").values("reason")[:1]
    return tickets.annotate(reason=Subquery(last))
