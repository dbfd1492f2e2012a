"""What the counter needs to know first in the morning and at any minute of the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery

from workshop.promise.honest import PromiseInDanger, promises_in_danger
from workshop.staff.models import Shop
from workshop.stores.shortages import stores_standing
from workshop.tickets.models import StateMove, Ticket

MOST_ROWS = 15
LATELY = 8
State = Ticket.State


@dataclass(frozen=True)
class Day:
    """The lists of the counter's first page, each cut to what is read at a glance, and how long each really is."""

    ready: Sequence[Ticket]
    pressing: Sequence[Ticket]
    unanswered: Sequence[Ticket]
    parts_here: Sequence[Ticket]
    in_danger: Sequence[PromiseInDanger]
    lately: Sequence[Ticket]
    ready_count: int
    pressing_count: int
    late_count: int
    unanswered_count: int
    open_count: int


def day_at_the_counter(shop: Shop, today: dt.date) -> Day:
    """Ready to hand back; promised today, late or in danger; waiting for an answer; booked in lately."""
    tickets = Ticket.objects.of_shop(shop)
    counts = tickets.open().aggregate(
        ready=Count("pk", filter=Q(state=State.READY)),
        pressing=Count("pk", filter=_pressing(today)),
        late=Count("pk", filter=late(today)),
        unanswered=Count("pk", filter=_unanswered()),
        inside=Count("pk"),
    )
    rows = tickets.with_names()
    standing = stores_standing(shop, with_quiet_items=False)
    return Day(
        ready=list(rows.filter(state=State.READY).order_by("state_since")[:MOST_ROWS]),
        pressing=list(with_reason(rows.filter(_pressing(today))).order_by("promised_on", "number")[:MOST_ROWS]),
        unanswered=list(with_reason(rows.filter(_unanswered())).order_by("state_since")[:MOST_ROWS]),
        parts_here=list(
            rows.filter(_for_parts(), pk__in=standing.parts_here()).order_by("promised_on", "number")[:MOST_ROWS]
        ),
        in_danger=promises_in_danger(shop, today, standing)[:LATELY],
        lately=list(rows.order_by("-booked_at", "-number")[:LATELY]),
        ready_count=counts["ready"],
        pressing_count=counts["pressing"],
        late_count=counts["late"],
        unanswered_count=counts["unanswered"],
        open_count=counts["inside"],
    )


def late(today: dt.date) -> Q:
    """Promised for a day that is over, and not ready."""
    return Q(state__in=(State.BOOKED_IN, State.ON_THE_BENCH, State.WAITING), promised_on__lt=today)


def _pressing(today: dt.date) -> Q:
    """Late, promised for today, or in danger: promised for tomorrow and not even on the bench."""
    due = Q(state__in=(State.BOOKED_IN, State.ON_THE_BENCH, State.WAITING), promised_on__lte=today)
    in_danger = Q(state__in=(State.BOOKED_IN, State.WAITING), promised_on=today + dt.timedelta(days=1))
    return due | in_danger


def _unanswered() -> Q:
    return Q(state=State.WAITING, waiting_for=Ticket.WaitingFor.CUSTOMER)


def _for_parts() -> Q:
    return Q(state=State.WAITING, waiting_for=Ticket.WaitingFor.PARTS)


def with_reason(tickets: QuerySet[Ticket]) -> QuerySet[Ticket]:
    """With `reason`: what was said at the last move."""
    last = StateMove.objects.filter(ticket=OuterRef("pk")).order_by("-pk").values("reason")[:1]
    return tickets.annotate(reason=Subquery(last))
