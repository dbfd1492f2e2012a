"""Units that came back within 90 days, by month and by what had been found the first time. No Django."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from workshop.office.figures.period import Period
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.office.figures.visits import TicketTimes, by_step, visits_together
from workshop.plots.bars import BarValue, bars
from workshop.plots.columns import Fill, Series, columns

WITHIN_DAYS = 90
FEWEST_FOR_A_SHARE = 5
NO_CAUSE = "No cause was named"
MOST_BARS = 12

_TAIL = (
    FigureColumn("Jobs, 90 days over", CellKind.COUNT),
    FigureColumn("Came back", CellKind.COUNT),
    FigureColumn("Share", CellKind.SHARE),
    FigureColumn("Tickets they came back on", CellKind.COUNT),
)


@dataclass(frozen=True)
class ClosedJob:
    """A visit that ended, and the next visit of the same unit if it came soon. `is_over`: its 90 days have passed."""

    visit: TicketTimes
    again: TicketTimes | None
    is_over: bool


def jobs_of(visits: Sequence[TicketTimes], now: dt.datetime) -> list[ClosedJob]:
    """Each visit that was ready and handed back, with the visit that followed within 90 days of hand-back."""
    by_unit: dict[int, list[TicketTimes]] = defaultdict(list)
    for visit in sorted(visits, key=lambda one: one.booked_at):
        if not visit.called_off:
            by_unit[visit.unit].append(visit)
    jobs = []
    for of_unit in by_unit.values():
        for place, visit in enumerate(of_unit):
            if visit.back_at is None or visit.ready_at is None:
                continue
            until = visit.back_at + dt.timedelta(days=WITHIN_DAYS)
            later = next((other for other in of_unit[place + 1 :] if other.booked_at >= visit.back_at), None)
            again = later if later is not None and later.booked_at <= until else None
            jobs.append(ClosedJob(visit, again, until <= now))
    return jobs


def come_backs(
    visits: Sequence[TicketTimes], causes: Mapping[int, frozenset[str]], period: Period, now: dt.datetime
) -> Figure:
    """Jobs handed back in the period, and which of them came back.

    Args:
        causes: titles of the causes found, by ticket.
    """
    jobs = {job.visit.ticket: job for job in jobs_of(visits, now)}
    groups = by_step([job.visit for job in jobs.values()], period, lambda visit: visit.back_at)
    chosen = [jobs[visit.ticket] for visit in visits_together(groups)]
    over = [job for job in chosen if job.is_over]
    back = [job for job in over if job.again]
    if over:
        share = f", {100 * len(back) / len(over):.0f} %" if len(over) >= FEWEST_FOR_A_SHARE else ""
        headline = f"{len(back)} of {len(over)} jobs came back within {WITHIN_DAYS} days{share}."
    else:
        headline = f"No job of these days is {WITHIN_DAYS} days old yet."
    return Figure(
        headline,
        (
            _by_month({key: [jobs[v.ticket] for v in group] for key, group in groups.items()}, chosen, period),
            _by_cause(chosen, causes),
        ),
        (
            f"A job came back if the same fork or shock was booked in again within {WITHIN_DAYS} days of hand-back, "
            "for whatever reason, a routine service too: open the tickets to see. Cancelled tickets do not count.",
            f"The share is of the jobs whose {WITHIN_DAYS} days are over; of fewer than {FEWEST_FOR_A_SHARE} jobs it "
            "would say nothing and is left out.",
        ),
    )


def _by_month(groups: Mapping[str, Sequence[ClosedJob]], everything: Sequence[ClosedJob], period: Period) -> Section:
    titled = [(step.key, step.words, groups.get(step.key, ()), False) for step in period.steps]
    rows = []
    for key, words, jobs, is_total in [*titled, ("all", "Total", everything, True)]:
        open_ones = [job for job in jobs if not job.is_over]
        waiting = Tickets.of(job.visit.ticket for job in open_ones)
        already = Tickets.of(job.visit.ticket for job in open_ones if job.again)
        rows.append(FigureRow(key, (words, *_tail(jobs), waiting, already), is_total))
    came = [float(sum(1 for job in jobs if job.again)) for _, _, jobs, _ in titled]
    stayed = [float(sum(1 for job in jobs if not job.again)) for _, _, jobs, _ in titled]
    plot = columns(
        key="months",
        places=[step.words for step in period.steps],
        series=[Series("not back so far", stayed, Fill.LIGHT), Series("came back", came, Fill.HATCHED)],
        x_label=f"{period.step_words} of hand-back",
        y_label="jobs",
        summary="Jobs by the month of hand-back, and those that came back. The figures are in the table.",
        stacked=True,
        counts=True,
    )
    head = FigureColumn("Handed back in")
    more = (FigureColumn("90 days not over", CellKind.COUNT), FigureColumn("of these back already", CellKind.COUNT))
    return Section("months", "By month of hand-back", (head, *_TAIL, *more), tuple(rows), plot)


def _by_cause(jobs: Sequence[ClosedJob], causes: Mapping[int, frozenset[str]]) -> Section:
    by_cause: dict[str, list[ClosedJob]] = defaultdict(list)
    for job in jobs:
        for cause in causes.get(job.visit.ticket) or {NO_CAUSE}:
            by_cause[cause].append(job)
    rows = []
    for cause, listed in by_cause.items():
        same = [
            job.visit.ticket
            for job in listed
            if job.is_over and job.again and cause in causes.get(job.again.ticket, frozenset())
        ]
        rows.append(FigureRow(cause, (cause, *_tail(listed), Tickets.of(same))))
    rows.sort(key=lambda row: (-_length(row, 2), -_length(row, 1), row.key))
    drawn = [
        BarValue(str(row.values[0]), float(_length(row, 2)), f"{_length(row, 2)} of {_length(row, 1)}")
        for row in rows
        if _length(row, 2)
    ]
    return Section(
        "causes",
        "By what was found the first time",
        (FigureColumn("Found the first time"), *_TAIL, FigureColumn("with the same cause again", CellKind.COUNT)),
        tuple(rows),
        bars(
            key="causes",
            rows=drawn[:MOST_BARS],
            x_label="jobs that came back",
            counts=True,
            summary="Jobs that came back by the cause found the first time. The figures are in the table.",
        ),
        ("A job with two causes stands under both.",),
    )


def _tail(jobs: Sequence[ClosedJob]) -> tuple[Tickets, Tickets, float | None, Tickets]:
    over = [job for job in jobs if job.is_over]
    back = [job for job in over if job.again]
    return (
        Tickets.of(job.visit.ticket for job in over),
        Tickets.of(job.visit.ticket for job in back),
        len(back) / len(over) if len(over) >= FEWEST_FOR_A_SHARE else None,
        Tickets.of(job.again.ticket for job in back if job.again),
    )


def _length(row: FigureRow, place: int) -> int:
    value = row.values[place]
    return len(value) if isinstance(value, Tickets) else 0
