"""How long a ticket has been worked on at the bench, in all and by step, from its ticks and corrections."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from diagnosis.bench_time import ClockedTick, StepTime, step_times
from diagnosis.models import MinutesCorrection, Run
from diagnosis.runs_minutes import correct_minutes
from diagnosis.runs_state import RunState, StepState
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.durations import duration_words


@dataclass(frozen=True)
class TimeRow:
    """One step that was ticked, its time, and what the clock says of it."""

    run_state: RunState
    state: StepState
    time: StepTime
    clock: StepTime
    correction: MinutesCorrection | None = None

    @property
    def corrected_by(self) -> str:
        return str(self.correction.by) if self.correction and self.correction.by else ""

    @property
    def took(self) -> str:
        """Whole minutes by the clock; a figure put right by hand as it was typed."""
        return f"{self.time.minutes:g}" if self.time.corrected else f"{self.time.minutes:.0f}"

    @property
    def remark(self) -> str:
        """What makes the figure less or more than the clock, in words."""
        if self.time.corrected:
            by = f" by {self.corrected_by}" if self.corrected_by else ""
            pause = f" and {duration_words(self.clock.pause_minutes)} of pause" if self.clock.pause_minutes else ""
            return f"corrected{by}; the clock says {duration_words(self.clock.minutes)}{pause}"
        if self.time.pause_minutes:
            return f"{duration_words(self.time.pause_minutes)} left out as a pause"
        return "ticked together with another" if self.time.ticked_together else ""


@dataclass(frozen=True)
class TicketTime:
    """The bench time of a ticket. What was left out as pauses is said beside it."""

    rows: Sequence[TimeRow]

    @property
    def minutes(self) -> float:
        return sum(row.time.minutes for row in self.rows)

    @property
    def text(self) -> str:
        return duration_words(self.minutes)

    @property
    def pauses_text(self) -> str:
        """The pauses left out; empty when there were none."""
        left_out = sum(row.time.pause_minutes for row in self.rows)
        return duration_words(left_out) if left_out else ""


def ticket_time(states: Sequence[RunState]) -> TicketTime:
    """The bench time of one ticket from the states of all its runs, in one query. Its runs share one clock."""
    corrections = {
        (row.run_id, row.step_id): row
        for row in MinutesCorrection.objects.filter(run__in=[state.run.pk for state in states])
        .select_related("by")
        .order_by("pk")
    }
    ticks = [
        ClockedTick((state.run.pk, tick.step_id), tick.step.minutes, tick.ticked_at)
        for state in states
        for tick in sorted(state.run.ticks.all(), key=lambda tick: tick.pk)
        if tick.counted_from_id is None  # done once, timed once: where it was answered
    ]
    starts = [state.run.started_at for state in states]
    clock = step_times(starts, ticks)
    times = step_times(starts, ticks, {place: row.minutes for place, row in corrections.items()})
    rows = []
    for state in states:
        for entry in state.steps:
            place = (state.run.pk, entry.step.pk)
            if place in times:
                rows.append(TimeRow(state, entry, times[place], clock.get(place, StepTime()), corrections.get(place)))
    return TicketTime(rows)


@transaction.atomic
def put_minutes_right(
    *, ticket: Ticket, run: Run, step_key: str, minutes: float, by: User, client_id: uuid.UUID, seen: int | None
) -> MinutesCorrection:
    """Correct a step's minutes, in the ticket's logbook too. Raises as diagnosis.runs_minutes.correct_minutes."""
    is_new = not MinutesCorrection.objects.filter(client_id=client_id).exists()
    made = correct_minutes(run=run, step_key=step_key, minutes=minutes, by=by, client_id=client_id, seen=seen)
    if is_new:
        values = {"step": made.step.title, "minutes": f"{made.minutes:g}"}
        log(ticket=ticket, by=by, kind="minutes_corrected", values=values)
    return made
