"""A unit is in the shop on one ticket at a time. The database holds it; this says which one it is."""

from __future__ import annotations

from workshop.tickets.models import Ticket
from workshop.tickets.refusals import UnlawfulMove


class OpenElsewhere(UnlawfulMove):
    """The unit is in the shop on another ticket; `inside` is that one."""

    def __init__(self, inside: Ticket) -> None:
        super().__init__(
            f"{inside.unit} is in the shop already, on ticket {inside.number}, which is "
            f"“{inside.state_words}”. Go on with that one, or close it before this one is opened again."
        )
        self.inside = inside


def open_beside(ticket: Ticket) -> list[Ticket]:
    """Other open tickets of its unit, the lowest number first; one query."""
    others = Ticket.objects.open().filter(unit=ticket.unit_id).exclude(pk=ticket.pk)
    return list(others.select_related("unit__model").order_by("number"))


def check_opens_alone(ticket: Ticket, to_state: str) -> None:
    """Raise OpenElsewhere where a closed ticket would open beside another of its unit.

    Call it with the shop's numbers held (workshop.tickets.booking.hold_numbers), as booking in does.
    """
    if ticket.is_open or to_state not in Ticket.OPEN_STATES:
        return
    for inside in open_beside(ticket)[:1]:
        raise OpenElsewhere(inside)


def count_the_next(closed: Ticket) -> None:
    """A ticket was closed: of those that were open beside it from before, the database counts the first from now on."""
    for other in open_beside(closed)[:1]:
        if other.doubled_at is not None:
            Ticket.objects.filter(pk=other.pk).update(doubled_at=None)
