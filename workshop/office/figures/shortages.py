"""What open tickets want and the stores do not have. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.office.figures.sheet import Column, Figure, Kind, Section, SheetRow, Tickets

COLUMNS = (
    Column("Part"),
    Column("Number"),
    Column("There", Kind.QUANTITY),
    Column("On order", Kind.QUANTITY),
    Column("Wanted", Kind.QUANTITY),
    Column("Missing", Kind.QUANTITY),
    Column("First promise that lacks it", Kind.DAY),
    Column("Days to come", Kind.COUNT),
    Column("Tickets that lack it", Kind.COUNT),
)


@dataclass(frozen=True)
class Shortage:
    """A part that is missing, beyond what is there and on order, and the tickets that lack it."""

    title: str
    number: str
    there: Decimal | None
    on_order: Decimal | None
    wanted: Decimal
    missing: Decimal
    first_promise: dt.date | None
    lead_days: int | None
    tickets: Sequence[int]


def shortages(found: Sequence[Shortage]) -> Figure:
    """What is missing, the earliest promise first."""
    ordered = sorted(found, key=lambda one: (one.first_promise or dt.date.max, one.title))
    rows = tuple(
        SheetRow(
            one.number or one.title,
            (
                one.title,
                one.number,
                one.there,
                one.on_order,
                one.wanted,
                one.missing,
                one.first_promise,
                one.lead_days,
                Tickets.of(one.tickets),
            ),
        )
        for one in ordered
    )
    held_up = len({ticket for one in found for ticket in one.tickets})
    headline = (
        f"{len(found)} {'part is' if len(found) == 1 else 'parts are'} short, "
        f"for {held_up} {'ticket' if held_up == 1 else 'tickets'}."
        if found
        else "Nothing is short."
    )
    section = Section("shortages", "Missing parts", COLUMNS, rows, nothing="Nothing that a ticket wants is missing.")
    return Figure(
        headline,
        (section,),
        (
            "As things stand now. Parts are kept for tickets by the order of their promises. Missing is what "
            "is neither there nor on order. Order it in the stores.",
        ),
    )
