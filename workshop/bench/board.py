"""What is on the bench, what comes next, and what waits."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from workshop.bench.timers import running_timers
from workshop.staff.models import User
from workshop.stores.shortages import stores_standing
from workshop.tickets.models import Ticket
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

MOST_ROWS = 30
_STATES = (Ticket.State.ON_THE_BENCH, Ticket.State.BOOKED_IN, Ticket.State.WAITING)


@dataclass(frozen=True)
class Section:
    """Tickets of one kind, no more than MOST_ROWS of them, and how many there are in all."""

    title: str
    tickets: list[Ticket]
    count: int
    when_empty: str

    @property
    def more(self) -> int:
        return self.count - len(self.tickets)


@require_GET
@anyone_in_the_shop
def board(request: ShopRequest) -> HttpResponse:
    user = request.user
    on_the_bench, booked_in, waiting = (_of(user, state) for state in _STATES)
    mine = _section("On your bench", on_the_bench.filter(mechanic=user), "Take the next ticket.")
    others = _section("On other benches", on_the_bench.exclude(mechanic=user), "")
    here = stores_standing(request.shop, with_quiet_items=False).parts_here()
    for_parts = waiting.filter(waiting_for=Ticket.WaitingFor.PARTS, pk__in=here)
    context = {
        "parts_here": _section("Parts are here", for_parts, ""),
        "mine": mine,
        "others": others,
        "next_to_take": _section("Next to take", booked_in, "Nothing waits to be taken."),
        "waiting": _section("Waiting", waiting.exclude(pk__in=for_parts.values("pk")), "Nothing is held up."),
        "timers": running_timers([*mine.tickets, *others.tickets]),
        "today": timezone.localdate(),
        "may_work": may_work(user),
    }
    return render(request, "bench/board.html", context)


def may_work(user: User) -> bool:
    """Whether somebody does bench work, rather than only looking at it."""
    return user.role in (User.Role.MECHANIC, User.Role.OWNER)


def _of(user: User, state: str) -> QuerySet[Ticket]:
    tickets = Ticket.objects.of_shop(user.shop).filter(state=state)
    return tickets.with_names().order_by("promised_on", "number")


def _section(title: str, tickets: QuerySet[Ticket], when_empty: str) -> Section:
    shown = list(tickets[: MOST_ROWS + 1])
    count = len(shown) if len(shown) <= MOST_ROWS else tickets.count()
    return Section(title, shown[:MOST_ROWS], count, when_empty)
