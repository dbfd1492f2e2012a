"""What is on the bench, what comes next, and what waits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from workshop.bench.ringing import ring_here
from workshop.bench.timers import running_timers
from workshop.charges.answers import answered_tickets, with_answer
from workshop.promise.expected import stores_for_promises
from workshop.promise.honest import mark_promises, promises_in_danger
from workshop.promise.queued import queued_tickets
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.tickets.inside import Chosen, TicketInside, choose_inside, ticket_rows, tickets_inside, waits_for_parts
from workshop.tickets.models import Ticket
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.work.unsafe import mark_unsafe

MOST_ROWS = 30
State = Ticket.State
TITLES = {
    "mine": ("On your bench", "Take the next ticket."),
    "others": ("On other benches", ""),
    "parts_here": ("Parts are here", ""),
    "answered": ("The customer answered", ""),
    "next_to_take": ("Next to take", "Nothing waits to be taken."),
    "waiting": ("Waiting", "Nothing is held up."),
}


@dataclass(frozen=True)
class BoardSection:
    """Tickets of one kind, no more than MOST_ROWS of them, and how many there are in total."""

    title: str
    when_empty: str
    tickets: list[Ticket]
    count: int

    @property
    def more(self) -> int:
        return self.count - len(self.tickets)


@require_GET
@anyone_in_the_shop
def board(request: ShopRequest) -> HttpResponse:
    user = request.user
    inside = tickets_inside(request.shop)
    today = timezone.localdate()
    queued = queued_tickets(request.shop)
    stores = stores_for_promises(request.shop, queued)
    here = stores.standing.parts_here()
    answers = answered_tickets(request.shop)

    def goes_on(ticket: TicketInside) -> bool:
        return ticket.pk in answers or (waits_for_parts(ticket) and ticket.pk in here)

    def listed(wanted: Callable[[TicketInside], bool]) -> Chosen:
        return choose_inside(inside, wanted, MOST_ROWS)

    chosen = {
        "mine": listed(lambda ticket: ticket.state == State.ON_THE_BENCH and ticket.mechanic_id == user.pk),
        "others": listed(lambda ticket: ticket.state == State.ON_THE_BENCH and ticket.mechanic_id != user.pk),
        "parts_here": listed(lambda ticket: waits_for_parts(ticket) and ticket.pk in here),
        "answered": listed(lambda ticket: ticket.pk in answers),
        "next_to_take": listed(lambda ticket: ticket.state == State.BOOKED_IN),
        "waiting": listed(lambda ticket: ticket.state == State.WAITING and not goes_on(ticket)),
    }
    shown = [pk for its in chosen.values() for pk in its.shown]
    rows = ticket_rows(shown, with_answer(Ticket.objects.for_rows()))
    mark_promises(rows.values(), promises_in_danger(request.shop, today, stores, queued))
    mark_unsafe(rows.values())
    sections = {
        key: BoardSection(*TITLES[key], [rows[pk] for pk in its.shown], its.count) for key, its in chosen.items()
    }
    timers = running_timers([*sections["mine"].tickets, *sections["others"].tickets])
    context = {
        **sections,
        "timers": timers,
        "today": today,
        "may_work": may_work(user),
    }
    response = render(request, "bench/board.html", context)
    ring_here(request, response, [shown.timer for shown in timers])  # a tablet on which somebody signed in meanwhile
    return response


def may_work(user: User) -> bool:
    """Whether somebody does bench work, rather than only looking at it."""
    return user.may(Right.WORK_AT_BENCH)
