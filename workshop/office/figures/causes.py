"""What units came in with and what was found, over time. No Django."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from workshop.office.figures.period import Period
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.office.figures.visits import TicketTimes, by_step, visits_together
from workshop.plots.bars import BarValue, bars
from workshop.web.counts import counted

NO_COMPLAINT = "No complaint was chosen"
MOST_BARS = 12


def causes_over_time(
    visits: Sequence[TicketTimes],
    complaints: Mapping[int, Sequence[str]],
    causes: Mapping[int, frozenset[str]],
    period: Period,
) -> Figure:
    """Complaints and causes of the tickets booked in in the period.

    Args:
        complaints: titles of the complaints, by ticket.
        causes: titles of the causes found, by ticket.
    """
    groups = by_step([visit for visit in visits if not visit.called_off], period, lambda visit: visit.booked_at)
    chosen = visits_together(groups)
    found = sum(1 for visit in chosen if causes.get(visit.ticket))
    named = _count(chosen, {v.ticket: complaints.get(v.ticket) or [NO_COMPLAINT] for v in chosen})
    headline = (
        f"{counted(len(chosen), 'ticket was', 'tickets were')} booked in; on {found} of them a cause was named."
        if chosen
        else "Nothing came in."
    )
    complained = {title for visit in chosen for title in complaints.get(visit.ticket) or ()}
    told = next((title for title in named if title in complained), "")
    if told:
        headline += f" Most often: {told[0].lower()}{told[1:]}."
    return Figure(
        headline,
        (
            _section("complaints", "Complaints", "Complaint", groups, named, period),
            _section("causes", "Causes found", "Cause", groups, _count(chosen, causes), period),
        ),
        (
            "Of the tickets booked in in these days, without cancelled ones. A ticket with two complaints or two "
            "causes stands under both.",
            "A cause counts if it was named at a check whose answer still holds, with no failed proof after it.",
        ),
    )


def _count(visits: Sequence[TicketTimes], titles: Mapping[int, Sequence[str] | frozenset[str]]) -> dict[str, list[int]]:
    """Tickets of each title, the most frequent title first."""
    tickets: dict[str, list[int]] = defaultdict(list)
    for visit in visits:
        for title in titles.get(visit.ticket, ()):
            tickets[title].append(visit.ticket)
    return dict(sorted(tickets.items(), key=lambda item: (-len(item[1]), item[0])))


def _section(
    key: str,
    title: str,
    head: str,
    groups: Mapping[str, Sequence[TicketTimes]],
    counted: Mapping[str, Sequence[int]],
    period: Period,
) -> Section:
    steps = period.steps
    in_step = {step.key: {visit.ticket for visit in groups.get(step.key, ())} for step in steps}
    rows = tuple(
        FigureRow(
            words,
            (
                words,
                Tickets.of(tickets),
                *(Tickets.of(ticket for ticket in tickets if ticket in in_step[step.key]) for step in steps),
            ),
        )
        for words, tickets in counted.items()
    )
    return Section(
        key,
        title,
        (
            FigureColumn(head),
            FigureColumn("All", CellKind.COUNT),
            *(FigureColumn(step.words, CellKind.COUNT) for step in steps),
        ),
        rows,
        bars(
            key=key,
            rows=[BarValue(words, float(len(tickets)), str(len(tickets))) for words, tickets in counted.items()][
                :MOST_BARS
            ],
            x_label="tickets",
            counts=True,
            summary=f"{title} by how often. The figures are in the table.",
        ),
    )
