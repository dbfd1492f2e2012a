"""What closed tickets say about a complaint: how often each cause, and how long each step. Pure.

The rows come from whoever knows which tickets are closed. A ticket counts for the cause that was found last and
holds: named, at a check that was not taken back. Tickets closed without a named cause are counted apart. A search
that did not come to its end says nothing of causes: those found early would count, and the others would be missed.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from diagnosis.beliefs import CauseBeliefs, StepMinutes, pooled_beliefs, step_minutes
from diagnosis.bench_time import ClockedTick, step_times
from diagnosis.layout_plans import STILL_PULLING
from diagnosis.runs_rules import FOUND, LEFT_OUT, NOT_PROVED, TAKEN_BACK

UNKNOWN_KIND = "unknown"


@dataclass(frozen=True)
class ClosedTick:
    """A tick of a closed ticket. `visit` tells tickets apart: all runs of one ticket share its clock."""

    visit: int
    run: int
    run_started_at: dt.datetime
    complaint: int
    spring_kind: str
    step_key: str
    planned_minutes: float
    outcome: str
    cause: str
    at: dt.datetime
    counted: bool = False  # follows from a tick of another run: done once, timed once, where it was answered
    run_ended: bool = True


@dataclass(frozen=True)
class Learned:
    """What the closed tickets of one complaint say. Counts are by spring kind and cause, minutes by step key."""

    tickets_by_kind: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    minutes: Mapping[str, Sequence[float]] = field(default_factory=dict)
    closed: int = 0
    without_cause: int = 0

    def beliefs(self, prior_weights: Mapping[str, float], spring_kind: str | None) -> CauseBeliefs:
        """Beliefs in these causes for one spring kind. Counts of causes that have no prior weight here are left out.

        Raises ValueError as diagnosis.beliefs.cause_beliefs does.
        """
        counts = {
            kind: {cause: count for cause, count in found.items() if cause in prior_weights}
            for kind, found in self.tickets_by_kind.items()
        }
        return pooled_beliefs(prior_weights, counts, spring_kind or UNKNOWN_KIND)

    def step_minutes(self, step_key: str, planned: float) -> StepMinutes:
        """Minutes to reckon with for a step, from its planned minutes and what the closed tickets took."""
        return step_minutes(planned, self.minutes.get(step_key, ()))


def learn(
    ticks: Iterable[ClosedTick], *, complaint: int, corrected_minutes: Mapping[tuple[int, str], float] | None = None
) -> Learned:
    """What these tickets say of one complaint.

    Args:
        ticks: every tick of the tickets in the order in which they were stored, those of other complaints too:
            they are on the same clock.
        complaint: the complaint asked about.
        corrected_minutes: by run and step key.
    """
    visits: dict[int, list[ClosedTick]] = defaultdict(list)
    for tick in ticks:
        visits[tick.visit].append(tick)
    corrected = corrected_minutes or {}
    counts: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    minutes: dict[str, list[float]] = defaultdict(list)
    closed = without_cause = 0
    for entries in visits.values():
        own = [entry for entry in entries if entry.complaint == complaint]
        if not own:
            continue
        ended = [entry for entry in own if entry.run_ended]
        cause = cause_found_of_closed(ended)
        closed += bool(ended)
        if cause:
            counts[own[0].spring_kind or UNKNOWN_KIND][cause] += 1
        elif ended:
            without_cause += 1
        for key, spent in told_minutes(entries, own, corrected).items():
            minutes[key].append(spent)
    return Learned(
        {kind: dict(found) for kind, found in counts.items()},
        {key: tuple(spent) for key, spent in minutes.items()},
        closed,
        without_cause,
    )


def cause_found_of_closed(ticks: Iterable[ClosedTick]) -> str:
    """The cause found last that holds, by key; empty without one. A proof that failed sets aside what was found."""
    causes: dict[tuple[int, str], str] = {}
    for tick in ticks:
        place = (tick.run, tick.step_key)
        causes.pop(place, None)
        if tick.outcome == NOT_PROVED:
            causes.clear()
        elif tick.outcome == FOUND and tick.cause:
            causes[place] = tick.cause
    return next(reversed(causes.values()), "")


def told_minutes(
    entries: Sequence[ClosedTick], own: Sequence[ClosedTick], corrected: Mapping[tuple[int, str], float]
) -> dict[str, float]:
    """Minutes of each step of one complaint that was answered and whose time tells something of the step.

    Args:
        entries: every tick of one ticket, which are on one clock.
        own: those of the complaint.
        corrected: corrected minutes by run and step key.
    """
    runs = {entry.run for entry in own}
    outcomes = {(entry.run, entry.step_key): entry.outcome for entry in own}
    entries = [entry for entry in entries if not entry.counted]
    times = step_times(
        {entry.run: entry.run_started_at for entry in entries}.values(),
        [ClockedTick((entry.run, entry.step_key), entry.planned_minutes, entry.at) for entry in entries],
        {place: spent for place, spent in corrected.items() if place in outcomes},
    )
    skipped = (TAKEN_BACK, LEFT_OUT, STILL_PULLING, "cant_tell")  # not done, or not to the end
    return {
        place[1]: time.minutes
        for place, time in times.items()
        if place[0] in runs and time.tells_the_step and outcomes[place] not in skipped
    }
