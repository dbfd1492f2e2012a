"""What closed tickets say about a complaint: how often each cause, how well each check finds it, how long each step is.

Pure. The rows come from whoever knows which tickets are closed. A ticket counts for every cause that was found and
holds: named, at a check that was not taken back, with no failed proof after it. Where the unit came back soon with the
same complaint it was not cured, and the ticket counts for none of them. Tickets closed without a named cause are kept
by the checks that ruled something out (`unseen.py` shares them out). A search that did not come to its end says nothing
of causes: those found early would count, and the others would be missed.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from diagnosis.beliefs import CauseBeliefs, StepMinutes, step_minutes
from diagnosis.bench_time import ClockedTick, step_times
from diagnosis.layout_plans import STILL_PULLING
from diagnosis.runs_rules import FOUND, LEFT_OUT, NOT_PROVED, TAKEN_BACK
from diagnosis.unit_state import LEFT_EARLY
from diagnosis.unseen import Chances, LearnedSearch, Tries, Unexplained, learned_search

UNKNOWN_KIND = "unknown"
RULED_OUT = "ruled_out"


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
    """What the closed tickets of one complaint say. Counts are by spring kind and cause, minutes by step key.

    `tries` holds, by step key and cause, how often a check found the cause where it was at work, of how often; and
    `unexplained`, by spring kind, how many tickets ended without a cause after which checks had ruled something out.
    """

    tickets_by_kind: Mapping[str, Mapping[str, int]] = field(default_factory=dict)
    minutes: Mapping[str, Sequence[float]] = field(default_factory=dict)
    closed: int = 0
    without_cause: int = 0
    came_back: int = 0
    tries: Tries = field(default_factory=dict)
    unexplained: Mapping[str, Unexplained] = field(default_factory=dict)

    def search(self, prior_weights: Mapping[str, float], chances: Chances, spring_kind: str | None) -> LearnedSearch:
        """Beliefs in these causes for one spring kind, and the chances of checks, both beside the shipped ones.

        Counts of causes that have no prior weight here are left out. Raises ValueError as cause_beliefs does.
        """
        kind = spring_kind or UNKNOWN_KIND
        counts = {
            one: {cause: count for cause, count in found.items() if cause in prior_weights}
            for one, found in self.tickets_by_kind.items()
        }
        return learned_search(prior_weights, chances, counts, kind, self.tries, self.unexplained.get(kind, {}))

    def beliefs(self, prior_weights: Mapping[str, float], spring_kind: str | None) -> CauseBeliefs:
        """The beliefs alone, where nothing is known of the checks."""
        return self.search(prior_weights, {}, spring_kind).beliefs

    def step_minutes(self, step_key: str, planned: float) -> StepMinutes:
        """Minutes to reckon with for a step, from its planned minutes and what the closed tickets took."""
        return step_minutes(planned, self.minutes.get(step_key, ()))


def learn(
    ticks: Iterable[ClosedTick],
    *,
    complaint: int,
    corrected_minutes: Mapping[tuple[int, str], float] | None = None,
    came_back: Collection[int] = (),
) -> Learned:
    """What these tickets say of one complaint.

    Args:
        ticks: every tick of the tickets in the order in which they were stored, those of other complaints too:
            they are on the same clock.
        complaint: the complaint asked about.
        corrected_minutes: by run and step key.
        came_back: visits after which the unit came in again soon with this complaint.
    """
    visits: dict[int, list[ClosedTick]] = defaultdict(list)
    for tick in ticks:
        visits[tick.visit].append(tick)
    corrected = corrected_minutes or {}
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    unexplained: dict[str, Counter[frozenset[str]]] = defaultdict(Counter)
    tries: dict[tuple[str, str], tuple[int, int]] = {}
    minutes: dict[str, list[float]] = defaultdict(list)
    closed = without_cause = back = 0
    for visit, entries in visits.items():
        own = [entry for entry in entries if entry.complaint == complaint]
        if not own:
            continue
        ended = [entry for entry in own if entry.run_ended]
        found, kind = causes_found_of_closed(ended), own[0].spring_kind or UNKNOWN_KIND
        closed += bool(ended)
        if ended and visit in came_back:
            back += 1
        elif found:
            counts[kind].update(set(found.values()))
            _count_tries(tries, found, _ruled_out(ended))
        elif ended:
            without_cause += 1
            unexplained[kind][_ruled_out(ended)] += 1
        for key, spent in told_minutes(entries, own, corrected).items():
            minutes[key].append(spent)
    return Learned(
        {kind: dict(causes) for kind, causes in counts.items()},
        {key: tuple(spent) for key, spent in minutes.items()},
        closed,
        without_cause,
        back,
        tries,
        {kind: dict(sets) for kind, sets in unexplained.items()},
    )


def causes_found_of_closed(ticks: Iterable[ClosedTick]) -> dict[str, str]:
    """Every cause found that holds, by the key of its step, the latest last; a proof that failed sets them aside."""
    causes: dict[tuple[int, str], str] = {}
    for tick in ticks:
        place = (tick.run, tick.step_key)
        causes.pop(place, None)
        if tick.outcome == NOT_PROVED:
            causes.clear()
        elif tick.outcome == FOUND and tick.cause:
            causes[place] = tick.cause
    return {step: cause for (_, step), cause in causes.items()}


def _ruled_out(ticks: Iterable[ClosedTick]) -> frozenset[str]:
    """The checks whose answer that counts ruled out what they look for."""
    outcomes = {(tick.run, tick.step_key): tick.outcome for tick in ticks}
    return frozenset(key for (_, key), outcome in outcomes.items() if outcome == RULED_OUT)


def _count_tries(
    tries: dict[tuple[str, str], tuple[int, int]], found: Mapping[str, str], ruled_out: Iterable[str]
) -> None:
    """What a ticket says of its checks: each found its cause, and those that ruled it out missed it."""
    for cause in set(found.values()):
        at = {step for step, named in found.items() if named == cause}
        for step in {*at, *ruled_out}:
            hits, times = tries.get((step, cause), (0, 0))
            tries[step, cause] = (hits + (step in at), times + 1)


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
    skipped = (TAKEN_BACK, LEFT_OUT, LEFT_EARLY, STILL_PULLING, "cant_tell")  # not done, or not to the end
    return {
        place[1]: time.minutes
        for place, time in times.items()
        if place[0] in runs and time.tells_the_step and outcomes[place] not in skipped
    }
