"""The units that are in the shop now: which there are, by what decides a list, and the rows that are shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any, NamedTuple, Protocol

from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


class TicketInside(NamedTuple):
    """What decides in which list an open ticket stands, and where in it."""

    pk: int
    number: int
    state: str
    waiting_for: str
    state_since: dt.datetime
    promised_on: dt.date
    mechanic_id: int | None


class InAState(Protocol):
    """What tells where a ticket stands, however much else was read of it."""

    @property
    def state(self) -> str: ...

    @property
    def waiting_for(self) -> str: ...


def waits_for_parts(ticket: InAState) -> bool:
    """Whether it is parts that its work waits for."""
    return ticket.state == Ticket.State.WAITING and ticket.waiting_for == Ticket.WaitingFor.PARTS


@dataclass(frozen=True)
class Chosen:
    """A list cut to what is shown of it, and how long it really is."""

    shown: Sequence[int]
    count: int


def tickets_inside(shop: Shop) -> list[TicketInside]:
    """Every open ticket by promised day, in one light query: a shop holds hundreds at most, whatever its history."""
    rows = Ticket.objects.of_shop(shop).open().order_by("promised_on", "number").values_list(*TicketInside._fields)
    return [TicketInside(*row) for row in rows]


def choose_inside(
    inside: Iterable[TicketInside], wanted: Callable[[TicketInside], bool], most: int, *, by: str = "promised_on"
) -> Chosen:
    """The first `most` tickets that are wanted, in the order of a field and their numbers."""
    found = sorted((ticket for ticket in inside if wanted(ticket)), key=attrgetter(by, "number"))
    return Chosen([ticket.pk for ticket in found[:most]], len(found))


def ticket_rows(keys: Iterable[int], tickets: Any = None) -> dict[int, Ticket]:
    """The tickets with these keys as rows show them, all lists of a page in one query."""
    queryset = Ticket.objects.for_rows() if tickets is None else tickets
    return {ticket.pk: ticket for ticket in queryset.filter(pk__in=set(keys))}
