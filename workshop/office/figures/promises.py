"""Whether units were ready on the promised day. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from workshop.office.figures.period import Period
from workshop.office.figures.quantiles import median
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.office.figures.visits import TicketTimes, by_step, visits_together
from workshop.plots.columns import Fill, Series, columns
from workshop.web.counts import counted

COLUMNS = (
    FigureColumn("Promised for"),
    FigureColumn("Kept", CellKind.COUNT),
    FigureColumn("Overdue", CellKind.COUNT),
    FigureColumn("Kept, share", CellKind.SHARE),
    FigureColumn("Median of the overdue, days", CellKind.DAYS),
    FigureColumn("Promise was moved", CellKind.COUNT),
)


def is_kept(visit: TicketTimes, today: dt.date) -> bool | None:
    """Whether the promise was kept; None where the promised day is not over and the unit not ready."""
    if visit.ready_at is not None:
        return visit.ready_at.date() <= visit.promised_on
    return None if visit.promised_on >= today else False


def promises(visits: Sequence[TicketTimes], period: Period, today: dt.date) -> Figure:
    """Promises of the period that are decided: kept if the unit was ready on the day or before."""
    decided = [visit for visit in visits if not visit.called_off and is_kept(visit, today) is not None]
    groups = by_step(decided, period, lambda visit: visit.promised_on)
    rows = [_row(step.key, step.words, groups.get(step.key, []), today) for step in period.steps]
    everything = visits_together(groups)
    rows.append(_row("all", "Total", everything, today, is_total=True))
    kept = sum(1 for visit in everything if is_kept(visit, today))
    headline = (
        f"{kept} of {counted(len(everything), 'promise was', 'promises were')} kept, "
        f"{100 * kept / len(everything):.0f} %."
        if everything
        else "No promise of these days is decided yet."
    )
    plot = columns(
        key="promises",
        places=[step.words for step in period.steps],
        series=[
            Series("kept", [_count(row, 1) for row in rows[:-1]], Fill.LIGHT),
            Series("overdue", [_count(row, 2) for row in rows[:-1]], Fill.HATCHED),
        ],
        x_label=period.step_words,
        y_label="tickets",
        summary="Promises kept and overdue by month. The figures are in the table.",
        stacked=True,
        counts=True,
    )
    return Figure(
        headline,
        (Section("promises", "Promises kept", COLUMNS, tuple(rows), plot),),
        (
            "Kept means ready on the promised day or before it, by the shop’s clock. A ticket that is still in work "
            "after its day is overdue, by the days until today. Cancelled tickets do not count.",
            "A promise counts by the day it has now. Where the day was changed on the ticket, it stands under "
            "“Promise was moved” too, so that a promise moved again and again can be seen.",
        ),
    )


def _row(key: str, words: str, visits: Sequence[TicketTimes], today: dt.date, *, is_total: bool = False) -> FigureRow:
    kept = [visit for visit in visits if is_kept(visit, today)]
    late = [visit for visit in visits if not is_kept(visit, today)]
    days_late = [
        float(((visit.ready_at.date() if visit.ready_at else today) - visit.promised_on).days) for visit in late
    ]
    values = (
        words,
        Tickets.of(visit.ticket for visit in kept),
        Tickets.of(visit.ticket for visit in late),
        len(kept) / len(visits) if visits else None,
        median(days_late),
        Tickets.of(visit.ticket for visit in visits if visit.promise_moved),
    )
    return FigureRow(key, values, is_total)


def _count(row: FigureRow, place: int) -> float:
    value = row.values[place]
    return float(len(value)) if isinstance(value, Tickets) else 0.0
