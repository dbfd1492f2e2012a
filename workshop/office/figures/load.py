"""The load of the bench: queued work against the hours there are until it is promised. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.plots.columns import Fill, Series, columns
from workshop.promise.days import Bench
from workshop.web.counts import counted
from workshop.web.durations import duration_words

WEEKS_SHOWN = 6
COLUMNS = (
    FigureColumn("Promised for"),
    FigureColumn("Tickets", CellKind.COUNT),
    FigureColumn("Work, h", CellKind.HOURS),
    FigureColumn("Bench, h", CellKind.HOURS),
    FigureColumn("Work until then, h", CellKind.HOURS),
    FigureColumn("Bench until then, h", CellKind.HOURS),
    FigureColumn("Load until then", CellKind.SHARE),
)


@dataclass(frozen=True)
class QueuedWork:
    """What is left of a ticket, and its promised day."""

    ticket: int
    promised_on: dt.date
    minutes: float


def load_figure(work: Sequence[QueuedWork], bench: Bench, today: dt.date) -> Figure:
    """Week by week of the promised day, from tomorrow on. Today is not counted: nobody knows what is left of it."""
    tomorrow = today + dt.timedelta(days=1)
    monday = tomorrow - dt.timedelta(days=tomorrow.weekday())
    overdue = [one for one in work if one.promised_on < tomorrow]
    rows, places = [_row("overdue", "Today or before", overdue, 0.0, 0.0, 0.0)], ["Today or before"]
    work_h, bench_h = _hours(overdue), 0.0
    worst: tuple[float, str] = (0.0, "")
    for week in range(WEEKS_SHOWN):
        start = max(monday + dt.timedelta(weeks=week), tomorrow)
        end = monday + dt.timedelta(weeks=week + 1)
        sunday = end - dt.timedelta(days=1)
        words = f"{start.day} {start:%b} to {sunday.day} {sunday:%b}"
        promised = [one for one in work if start <= one.promised_on < end]
        open_h = sum(bench.minutes_on(day) / 60 for day in _days(start, end))
        work_h, bench_h = work_h + _hours(promised), bench_h + open_h
        rows.append(_row(start.isoformat(), words, promised, open_h, work_h, bench_h))
        places.append(f"{start.day} {start:%b}")
        if bench_h and work_h / bench_h > worst[0]:
            worst = (work_h / bench_h, f"{sunday.day} {sunday:%b}")
    later = [one for one in work if one.promised_on >= monday + dt.timedelta(weeks=WEEKS_SHOWN)]
    if later:
        rows.append(_row("later", "Later", later, None, None, None))
        places.append("Later")
    total = _hours(work)
    headline = f"{duration_words(60 * total)} of work are queued on {counted(len(work), 'ticket')}."
    if worst[0] > 1:
        headline += f" Until {worst[1]} more is promised than the bench has hours: {100 * worst[0]:.0f} %."
    elif work:
        headline += f" The busiest period is until {worst[1]}: {100 * worst[0]:.0f} % of the hours until then."
    plot = columns(
        key="load",
        places=places,
        series=[
            Series("work promised", [_float(row.values[2]) for row in rows], Fill.HATCHED),
            Series("hours of the bench", [_float(row.values[3]) for row in rows], Fill.LIGHT),
        ],
        x_label="week, by its first day",
        y_label="hours",
        summary="Hours of work promised and hours of the bench, week by week. The figures are in the table.",
    )
    return Figure(
        headline,
        (Section("load", "Queued work and the bench’s hours", COLUMNS, tuple(rows), plot),),
        (
            "Queued are the tickets booked in, on the bench or waiting. Their work is the steps of their "
            "checklists that are not answered, at the minutes they take in this shop. The bench’s hours are "
            "those set under Capacity, by mechanic where they have calendars; closed days are left out, and so "
            "is today.",
            "Load until then is all work promised up to that week against all hours up to its end. Above 100 % "
            "not every promise can be kept, whatever the order.",
        ),
    )


def _row(
    key: str,
    words: str,
    work: Sequence[QueuedWork],
    open_h: float | None,
    work_until_h: float | None,
    bench_until_h: float | None,
) -> FigureRow:
    share = work_until_h / bench_until_h if work_until_h is not None and bench_until_h else None
    if key == "overdue":
        work_until_h = _hours(work)
    tickets = Tickets.of(one.ticket for one in work)
    return FigureRow(key, (words, tickets, _hours(work), open_h, work_until_h, bench_until_h, share))


def _hours(work: Sequence[QueuedWork]) -> float:
    return sum(one.minutes for one in work) / 60


def _days(start: dt.date, end: dt.date) -> list[dt.date]:
    return [start + dt.timedelta(days=n) for n in range((end - start).days)]


def _float(value: object) -> float | None:
    return value if isinstance(value, float) else None
