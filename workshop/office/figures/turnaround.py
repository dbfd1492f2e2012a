"""How long units stay: from booked in to ready, to handed back, and where the days went. No Django."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from workshop.office.figures.period import Period
from workshop.office.figures.quantiles import METHOD, median, percentile
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.office.figures.visits import TicketTimes, by_step, visits_together
from workshop.plots.bars import BarValue, bars
from workshop.plots.columns import Fill, Series, columns

COLUMNS = (
    FigureColumn("Month"),
    FigureColumn("Tickets", CellKind.COUNT),
    FigureColumn("Median, days", CellKind.DAYS),
    FigureColumn("90th percentile, days", CellKind.DAYS),
    FigureColumn("Longest, days", CellKind.DAYS),
)


StateWords = Callable[[str, str], str]


def turnaround(visits: Sequence[TicketTimes], period: Period, state_words: StateWords) -> Figure:
    """Days to ready and to handed back, by month, and in which state they went by."""
    done = [visit for visit in visits if visit.ready_at is not None]
    ready = by_step(done, period, lambda visit: visit.ready_at)
    back = by_step(done, period, lambda visit: visit.back_at)
    days = _told(visits_together(ready), lambda visit: visit.days_to_ready)
    middle, most = median(days), percentile(days, 0.9)
    if middle is None or most is None:
        headline = "No ticket became ready in these days."
    else:
        headline = f"Half of the tickets were ready within {middle:.1f} days, nine in ten within {most:.1f}."
    return Figure(
        headline,
        (
            _days_section("ready", "Booked in to ready", ready, lambda visit: visit.days_to_ready, period),
            _days_section("back", "Booked in to handed back", back, lambda visit: visit.days_to_back, period),
            _stays_section(visits_together(back), state_words),
        ),
        (
            "Days are days of the calendar, nights and closed days too. A ticket stands in the month in which "
            "it became ready, or was handed back. One that went back to the bench counts by the last time it became "
            "ready; one that was cancelled does not count.",
            f"Median and 90th percentile are worked out as the {METHOD} has it; of fewer than nine tickets the 90th "
            "percentile is the longest.",
        ),
    )


def _days_section(
    key: str,
    title: str,
    groups: dict[str, list[TicketTimes]],
    days_of: Callable[[TicketTimes], float | None],
    period: Period,
) -> Section:
    rows, medians, ninetieths = [], [], []
    for step in period.steps:
        row = _row(step.key, step.words, groups.get(step.key, []), days_of)
        rows.append(row)
        medians.append(_number(row.values[2]))
        ninetieths.append(_number(row.values[3]))
    rows.append(_row("all", "Total", visits_together(groups), days_of, is_total=True))
    plot = columns(
        key=key,
        places=[step.words for step in period.steps],
        series=[Series("median", medians, Fill.SOLID), Series("90th percentile", ninetieths, Fill.HATCHED)],
        x_label=period.step_words,
        y_label="days",
        summary=f"{title}: median and 90th percentile in days by month. The figures are in the table.",
    )
    return Section(key, title, COLUMNS, tuple(rows), plot)


def _row(
    key: str,
    words: str,
    visits: Sequence[TicketTimes],
    days_of: Callable[[TicketTimes], float | None],
    *,
    is_total: bool = False,
) -> FigureRow:
    days = _told(visits, days_of)
    tickets = Tickets.of(visit.ticket for visit in visits)
    return FigureRow(key, (words, tickets, median(days), percentile(days, 0.9), max(days, default=None)), is_total)


def _stays_section(visits: Sequence[TicketTimes], state_words: StateWords) -> Section:
    """Where the days of handed-back tickets went, on average."""
    states = list(dict.fromkeys(state for visit in visits for state in visit.stays_days))
    rows, drawn = [], []
    total = sum(sum(visit.stays_days.values()) for visit in visits)
    for state in states:
        stayed = [visit for visit in visits if visit.stays_days.get(state)]
        days = sum(visit.stays_days.get(state, 0.0) for visit in visits)
        mean = days / len(visits)
        words, tickets = state_words(*state), Tickets.of(visit.ticket for visit in stayed)
        rows.append(FigureRow("-".join(filter(None, state)), (words, tickets, mean, days / total if total else None)))
        drawn.append(BarValue(words, mean, f"{mean:.1f}"))
    return Section(
        "stays",
        "Where the days went",
        (
            FigureColumn("State"),
            FigureColumn("Tickets", CellKind.COUNT),
            FigureColumn("Days a ticket, on average", CellKind.DAYS),
            FigureColumn("Share of all days", CellKind.SHARE),
        ),
        tuple(rows),
        bars(
            key="stays",
            rows=drawn,
            x_label="days a ticket, on average",
            summary="Days that a ticket spent in each state, on average. The figures are in the table.",
        ),
        ("Of the tickets handed back in these days. “Ready” is the time until it was collected.",),
    )


def _told(visits: Sequence[TicketTimes], days_of: Callable[[TicketTimes], float | None]) -> list[float]:
    return [days for visit in visits if (days := days_of(visit)) is not None]


def _number(value: object) -> float | None:
    return float(value) if isinstance(value, int | float) else None
