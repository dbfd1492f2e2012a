"""What the counter needs to know first in the morning and at any minute of the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Q, QuerySet, Subquery

from workshop.charges.answers import answered_tickets, with_answer
from workshop.promise.honest import mark_promises, promises_in_danger
from workshop.promise.queued import IN_WORK, queued_tickets
from workshop.staff.models import Shop
from workshop.stock.shortages import stores_standing
from workshop.tickets.inside import TicketInside, choose, rows_of, tickets_inside, waits_for_parts
from workshop.tickets.models import StateMove, Ticket
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
    ready_count: int
    late_count: int
    unanswered_count: int
    open_count: int


@dataclass(frozen=True)
class Outlook:
    """What the stores and the queue at the bench mean for promises."""

    parts_here: Sequence[Ticket]
    in_danger: Sequence[Ticket]
    in_danger_count: int


def day_at_the_counter(shop: Shop, today: dt.date) -> Day:
    """Ready to hand back; answered or not; booked in lately. Four queries."""
    inside, answers = tickets_inside(shop), answered_tickets(shop)
    ready = choose(inside, lambda ticket: ticket.state == State.READY, MOST_ROWS, by="state_since")
    unanswered = choose(
        inside, lambda ticket: _is_asked(ticket) and ticket.pk not in answers, MOST_ROWS, by="state_since"
    )
    answered = choose(inside, lambda ticket: ticket.pk in answers, MOST_ROWS)
    lately = list(Ticket.objects.of_shop(shop).order_by("-number").values_list("pk", flat=True)[:LATELY])
    every = [*ready.shown, *unanswered.shown, *answered.shown, *lately]
    rows = rows_of(every, with_answer(with_reason(Ticket.objects.for_rows())))
    return Day(
        ready=[rows[pk] for pk in ready.shown],
        unanswered=[rows[pk] for pk in unanswered.shown],
        answered=[rows[pk] for pk in answered.shown],
        lately=[rows[pk] for pk in lately],
        ready_count=ready.count,
        late_count=sum(ticket.state in IN_WORK and ticket.promised_on < today for ticket in inside),
        unanswered_count=unanswered.count,
        open_count=len(inside),
    )


def outlook_at_the_counter(shop: Shop, today: dt.date) -> Outlook:
    """Tickets whose parts have come, and promises that will not hold as things stand."""
    standing, tickets = stores_standing(shop, with_quiet_items=False), queued_tickets(shop)
    dangers = promises_in_danger(shop, today, standing, tickets)
    shown = [danger.ticket_pk for danger in dangers[:MOST_ROWS]]
    with_parts = standing.parts_here()
    here = [ticket.pk for ticket in tickets if waits_for_parts(ticket) and ticket.pk in with_parts][:MOST_ROWS]
    rows = rows_of([*here, *shown])
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


def _is_asked(ticket: TicketInside) -> bool:
    return ticket.state == State.WAITING and ticket.waiting_for == Ticket.WaitingFor.CUSTOMER


def with_reason(tickets: QuerySet[Ticket]) -> QuerySet[Ticket]:
    """With `reason`: what was said at the last move."""
    last = StateMove.objects.filter(ticket=OuterRef("pk")).order_by("-pk").values("reason")[:1]
    return tickets.annotate(reason=Subquery(last))
