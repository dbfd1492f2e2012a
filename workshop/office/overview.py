"""What the owner looks at first: which promises will not hold and why, what waits, and what nobody has checked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q

from specs.models import SpecValue
from workshop.promise.honest import mark_promises, promises_in_danger
from workshop.signed.standing import unread
from workshop.staff.models import Shop
from workshop.tickets.inside import rows_of
from workshop.tickets.models import Ticket
from workshop.web.days import start_of

ROWS = 12
COLLECT_AFTER_DAYS = 7


@dataclass(frozen=True)
class Overview:
    """Counts of open tickets and the rows that want the owner."""

    counts: list[tuple[str, int]]
    late_count: int
    in_danger_count: int
    in_danger: list[Ticket]
    waiting: list[Ticket]
    uncollected: list[Ticket]
    unchecked_values: int
    unread_checklists: int


def overview_of(shop: Shop, today: date) -> Overview:
    """The owner's overview, in a number of queries that does not grow with the shop."""
    tickets = Ticket.objects.of_shop(shop)
    in_work = [Ticket.State.BOOKED_IN, Ticket.State.ON_THE_BENCH, Ticket.State.WAITING]
    late = Q(state__in=in_work, promised_on__lt=today)
    counts = tickets.open().aggregate(
        **{state.value: Count("pk", filter=Q(state=state)) for state in Ticket.OPEN_STATES},
        late=Count("pk", filter=late),
    )
    rows = tickets.with_names()
    dangers = promises_in_danger(shop, today)
    shown = rows_of([danger.ticket_pk for danger in dangers[:ROWS]], rows)
    waiting = list(rows.filter(state=Ticket.State.WAITING).order_by("state_since")[:ROWS])
    mark_promises([*shown.values(), *waiting], dangers)
    collect_before = start_of(today - timedelta(days=COLLECT_AFTER_DAYS))
    return Overview(
        counts=[(str(state.label), counts[state.value]) for state in Ticket.OPEN_STATES],
        late_count=counts["late"],
        in_danger_count=len(dangers),
        in_danger=[shown[danger.ticket_pk] for danger in dangers[:ROWS]],
        waiting=waiting,
        uncollected=list(
            rows.filter(state=Ticket.State.READY, state_since__lt=collect_before).order_by("state_since")[:ROWS]
        ),
        unchecked_values=SpecValue.objects.filter(is_current=True, withdrawn=False, checked_at__isnull=True).count(),
        unread_checklists=unread(shop).count(),
    )
