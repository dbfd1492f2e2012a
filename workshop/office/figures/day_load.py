"""Who has how much on which day: the queue as every promise reckons it, by day and mechanic. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.plots.columns import Columns, Fill, Series, columns
from workshop.promise.days import Bench
from workshop.promise.dealt import Dealt, DealtJob, deal
from workshop.web.durations import duration_words

DAYS_SHOWN = 10
NOBODY = "Not given to anybody yet"
COLUMNS = (
    FigureColumn("Day"),
    FigureColumn("Tickets", CellKind.COUNT),
    FigureColumn("Work, h", CellKind.HOURS),
    FigureColumn("Hours there, h", CellKind.HOURS),
)


def day_load(jobs: Sequence[DealtJob], bench: Bench, names: Mapping[int, str], today: dt.date) -> Figure:
    """The next ten open days, all together and by mechanic.

    Args:
        jobs: the queue by the order of promises.
        names: of the mechanics that jobs are given to, by key.
    """
    days, dealt = deal(bench, today, jobs, DAYS_SHOWN)
    there = {one.key: one for one in bench.people}
    people: dict[int, str] = {one.key: one.name for one in bench.people}
    people |= {
        key: name for key, name in names.items() if key not in people and any(job.mechanic == key for job in jobs)
    }
    all_h = [bench.minutes_on(day) / 60 for day in days]
    sections = [_section("all", "All of the bench", days, dealt, all_h)]
    for key, name in people.items():
        own = [bench.minutes_on(day) and there[key].minutes_on(day) / 60 for day in days] if key in there else None
        sections.append(_section(f"of-{key}", name, days, [one for one in dealt if one.job.mechanic == key], own))
    nobodys = [one for one in dealt if one.job.mechanic is None]
    if nobodys:
        sections.append(_section("nobody", NOBODY, days, nobodys, None))
    total, shown = sum(job.minutes for job in jobs), sum(one.minutes for one in dealt)
    headline = f"{duration_words(total)} of work are queued"
    if dealt:
        last = dealt[-1].day
        headline += f", {duration_words(shown)} of it until {last:%a} {last.day} {last:%b}"
    return Figure(
        f"{headline}.",
        tuple(sections),
        (
            "The minutes of the queue are dealt to the open days from tomorrow on in the order of promises, as every "
            "promise is reckoned: a day takes the hours of all mechanics together. A job that waits for parts keeps "
            "its place.",
            "Work is shown with the mechanic who has the ticket. Where that is more than the hours there, others have "
            "to help, or the promises of his tickets do not hold.",
        ),
    )


def _section(
    key: str, title: str, days: Sequence[dt.date], dealt: Sequence[Dealt], there_h: Sequence[float] | None
) -> Section:
    rows, work = [], []
    for place, day in enumerate(days):
        its = [one for one in dealt if one.day == day]
        hours = sum(one.minutes for one in its) / 60
        work.append(hours)
        there = None if there_h is None else there_h[place]
        tickets = Tickets.of(one.job.ticket for one in its)
        rows.append(FigureRow(day.isoformat(), (f"{day:%a} {day.day} {day:%b}", tickets, hours, there)))
    return Section(key, title, COLUMNS, tuple(rows), _plot(key, title, days, work, there_h))


def _plot(
    key: str, title: str, days: Sequence[dt.date], work: Sequence[float], there_h: Sequence[float] | None
) -> Columns | None:
    series = [Series("work, h", work, Fill.HATCHED)]
    if there_h is not None:
        series.append(Series("hours there, h", there_h, Fill.LIGHT))
    told = ", ".join(
        f"{day:%a} {day.day} {day:%b} {hours:.1f} h" for day, hours in zip(days, work, strict=True) if hours
    )
    return columns(
        key=f"days-{key}",
        places=[f"{day:%a} {day.day}" for day in days],
        series=series,
        x_label="open day, from tomorrow on",
        y_label="hours",
        summary=f"{title}, work by day: {told or 'none'}. All figures are in the table.",
    )
