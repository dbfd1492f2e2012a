"""What open tickets want and the stores do not have. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.plots.bars import BarValue, bars

COLUMNS = (
    FigureColumn("Part"),
    FigureColumn("Number"),
    FigureColumn("In stock", CellKind.QUANTITY),
    FigureColumn("On order", CellKind.QUANTITY),
    FigureColumn("Wanted", CellKind.QUANTITY),
    FigureColumn("Missing", CellKind.QUANTITY),
    FigureColumn("First promise that lacks it", CellKind.DAY),
    FigureColumn("Lead time, days", CellKind.COUNT),
    FigureColumn("Tickets that lack it", CellKind.COUNT),
)
LIKELY_COLUMNS = (
    FigureColumn("Part"),
    FigureColumn("Number"),
    FigureColumn("In stock", CellKind.QUANTITY),
    FigureColumn("On order", CellKind.QUANTITY),
    FigureColumn("Expected on average", CellKind.QUANTITY),
    FigureColumn("Expected at most", CellKind.QUANTITY),
    FigureColumn("Chance that it runs short", CellKind.SHARE),
    FigureColumn("Tickets likely to lack it", CellKind.COUNT),
)
MOST_DRAWN = 10


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


@dataclass(frozen=True)
class LikelyShortage:
    """A part that stands on no ticket yet and that will be missing where tickets need it, as they are likely to.

    `chance_short` is from 0 to 1; `there` and `on_order` are None where the part is not kept.
    """

    title: str
    number: str
    there: Decimal | None
    on_order: Decimal | None
    expected: Decimal
    most: Decimal
    chance_short: float
    tickets: Sequence[int]


def shortages(found: Sequence[Shortage], likely: Sequence[LikelyShortage] = ()) -> Figure:
    """What is missing, the earliest promise first; and what is likely to be, the likeliest first."""
    ordered = sorted(found, key=lambda one: (one.first_promise or dt.date.max, one.title))
    rows = tuple(
        FigureRow(
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
    most = sorted(ordered, key=lambda one: -len(one.tickets))[:MOST_DRAWN]
    plot = bars(
        key="shortages",
        rows=[BarValue(one.title, len(one.tickets), str(len(one.tickets))) for one in most],
        x_label="Tickets that lack the part",
        summary=f"Tickets that lack a part: {'; '.join(f'{one.title} {len(one.tickets)}' for one in most)}.",
        counts=True,
    )
    section = Section(
        "shortages", "Missing parts", COLUMNS, rows, plot=plot, nothing="Nothing that a ticket wants is missing."
    )
    return Figure(
        headline,
        (section, _likely(likely)),
        (
            "As things stand now. Parts are kept for tickets by the order of their promises. Missing is what "
            "is neither there nor on order. Order it in the stores.",
        ),
    )


def _likely(likely: Sequence[LikelyShortage]) -> Section:
    rows = tuple(
        FigureRow(
            one.number,
            (
                *(one.title, one.number, one.there, one.on_order, one.expected, one.most, one.chance_short),
                Tickets.of(one.tickets),
            ),
        )
        for one in sorted(likely, key=lambda one: (-one.chance_short, one.title))
    )
    return Section(
        "likely",
        "Likely to be missing",
        LIKELY_COLUMNS,
        rows,
        nothing="What open tickets are likely to need is there or on order.",
    )
