"""What a row of a list says of the rest of its visit, before the customer is told that it is ready."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from workshop.tickets.models import Ticket


@dataclass(frozen=True)
class VisitBeside:
    """The numbers of what else of a visit is ready, and of what is open and not ready."""

    ready: tuple[int, ...] = ()
    not_yet: tuple[int, ...] = ()


def mark_visit(ticket: Ticket, others: Iterable[Ticket]) -> None:
    """Give a ticket `beside`, a VisitBeside, for templates/counter/_tell_ready.html."""
    inside = [one for one in others if one.is_open and one.pk != ticket.pk]
    ticket.beside = VisitBeside(  # type: ignore[attr-defined]
        tuple(one.number for one in inside if one.state == Ticket.State.READY),
        tuple(one.number for one in inside if one.state != Ticket.State.READY),
    )


def mark_visits(tickets: Iterable[Ticket]) -> None:
    """The same for rows of a list, in one query."""
    listed = list(tickets)
    visits = {ticket.visit_id for ticket in listed if ticket.visit_id is not None}
    of_visit: dict[int | None, list[Ticket]] = defaultdict(list)
    for one in Ticket.objects.open().filter(visit__in=visits).only("number", "state", "visit").order_by("number"):
        of_visit[one.visit_id].append(one)
    for ticket in listed:
        mark_visit(ticket, of_visit.get(ticket.visit_id, ()) if ticket.visit_id is not None else ())
