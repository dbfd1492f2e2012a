"""Where a run stands, for a screen or a document: each step with its answer, what is next and why, what is proved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch, prefetch_related_objects

from diagnosis.declared import key_measuring
from diagnosis.layout import DoLine, applies, lines_for
from diagnosis.layout_facts import Facts, condition_of
from diagnosis.layout_plans import CAUSE
from diagnosis.models import Cause, Reading, Run, Step, StepTimer, Tick, ToldOtherwise
from diagnosis.runs import latest_outcomes
from diagnosis.runs_causes import kind_of
from diagnosis.runs_rules import FOUND, NOTED, answer_of, missing_needs, missing_proof, without_idle_repairs
from diagnosis.runs_shared import Happened, happened, state_from
from diagnosis.shared_steps import Side, reads_the_same
from diagnosis.steps import put_steps_on, steps_by_checklist
from diagnosis.unit_state import LEFT_EARLY, UnitState, Unmet, declares

ONLY_IF_FOUND = "Only if found"
ONLY_IF_LOADED = "Only if air stays trapped"


@dataclass(frozen=True)
class StepState:
    """One step as this unit needs it, with what was entered. `tick` is the answer that counts, if there is one."""

    step: Step
    facts: Facts
    tick: Tick | None
    readings: Mapping[str, Reading]
    timers: tuple[StepTimer, ...]
    missing_needs: tuple[Step, ...]
    unmet: tuple[Unmet, ...] = ()
    """What the step requires of the unit and the unit is not."""
    lapsed: Tick | None = None
    """The last answer, where it no longer says what is so and the step is open again."""

    @property
    def key(self) -> str:
        return self.step.key

    @property
    def is_left_early(self) -> bool:
        """Whether it is open again because its wait was not kept."""
        return self.lapsed is not None and self.lapsed.outcome == LEFT_EARLY

    @property
    def is_dangerous_now(self) -> bool:
        """Whether doing the step as the unit is now could hurt somebody."""
        return any(unmet.is_danger for unmet in self.unmet)

    @property
    def unit_is(self) -> str:
        """How the unit is where the step requires otherwise, as a sentence; "" where it is as required."""
        said = ", and ".join(dict.fromkeys(unmet.words for unmet in self.unmet))
        return f"{said[:1].upper()}{said[1:]}." if said else ""

    @property
    def condition(self) -> str:
        """What makes the step a “maybe” on this unit, in words."""
        return condition_of(self.step, self.facts)

    @property
    def lines(self) -> tuple[DoLine, ...]:
        """What to do on this unit."""
        return lines_for(self.step, self.facts)

    def reading_of(self, measures: str) -> Reading | None:
        """What was entered for the reading that is of this; see diagnosis.declared.MEASURES."""
        key = key_measuring(self.step.readings, measures)
        return self.readings.get(key) if key else None

    @property
    def outcome(self) -> str:
        return self.tick.outcome if self.tick else ""

    @property
    def answered_in(self) -> Run | None:
        """The other run of the job in which the step was answered."""
        source = self.tick.counted_from if self.tick else None
        return source.run if source is not None and self.tick and source.run_id != self.tick.run_id else None

    @property
    def answer(self) -> Mapping[str, Any]:
        return answer_of(self.step, self.outcome)

    @property
    def labelled_readings(self) -> list[tuple[str, Reading]]:
        """The readings taken, with the words of their fields."""
        labels = {plan["key"]: plan["label"] for plan in self.step.readings}
        return [(labels.get(key, key), reading) for key, reading in self.readings.items()]

    @property
    def running_timer(self) -> StepTimer | None:
        return next((timer for timer in reversed(self.timers) if timer.stopped_at is None), None)


@dataclass(frozen=True)
class FoundState:
    """A finding and what it leads to. `cause` is None where the step names none, `kind` one of FINDINGS."""

    step_state: StepState
    cause: Cause | None
    kind: str
    says: str
    cure: str
    parts: Sequence[Mapping[str, Any]]
    escalate: str
    call_customer: str

    @property
    def step(self) -> Step:
        return self.step_state.step

    @property
    def told_by(self) -> tuple[int | None, int | None]:
        """The answer it was given with, and its cause: alike for one finding that counts in several runs of a job."""
        tick = self.step_state.tick
        return (tick.counted_from_id or tick.pk) if tick else None, self.cause.pk if self.cause else None


@dataclass(frozen=True)
class NextState:
    """The next step, and why in one sentence; `is_plain` where only the handbook's order asks for it."""

    step_state: StepState
    why: str
    is_plain: bool = False

    @property
    def step(self) -> Step:
        return self.step_state.step


@dataclass(frozen=True)
class RunState:
    """A run at `version`. `steps` are those that apply, or may, in handbook order."""

    run: Run
    version: int
    steps: tuple[StepState, ...]
    next: NextState | None
    found: tuple[FoundState, ...]
    missing_proof: tuple[StepState, ...]
    latest: StepState | None
    by_key: Mapping[str, StepState] = field(repr=False)
    unit: UnitState = field(repr=False)
    """The state of the unit, from every tick of the job."""
    side: Side = field(repr=False)
    """The run as the rules for runs side by side see it."""

    @property
    def outcomes(self) -> Mapping[str, str]:
        """The answers that count, by step key, in the order in which they were given."""
        return self.side.outcomes

    @property
    def declares_state(self) -> bool:
        """Whether the checklist says what its steps open and leave; one from before does not."""
        return any(declares(state.step) for state in self.steps)

    @property
    def answered(self) -> int:
        return sum(1 for state in self.steps if state.tick)

    @property
    def total(self) -> int:
        """Answered and to be answered, without what nothing asks for."""
        return len(self.steps) - len(self.not_asked)

    @property
    def not_asked(self) -> Mapping[str, str]:
        """Open steps that nothing asks for so far, by key, with what would in words: a finding, or a loaded chamber."""
        asked = {step.key for step in without_idle_repairs([one.step for one in self.steps], self.outcomes)}
        waiting = {one.key: ONLY_IF_FOUND for one in self.steps if one.key not in asked}
        loaded = [one for one in self.steps if any(unmet.asks_for_a_loaded_chamber for unmet in one.unmet)]
        return waiting | {one.key: ONLY_IF_LOADED for one in loaded if not one.tick and one.key not in waiting}

    @property
    def is_untouched(self) -> bool:
        """Whether nothing was answered in this very run; what counts from another was not."""
        return not any(tick.counted_from_id is None for tick in self.run.ticks.all())

    @property
    def running_timers(self) -> list[tuple[StepState, StepTimer]]:
        return [(state, state.running_timer) for state in self.steps if state.running_timer]

    def reading(self, step_key: str, key: str) -> Reading | None:
        """The latest reading of that key at that step."""
        state = self.by_key.get(step_key)
        return state.readings.get(key) if state else None


def state_of(run: Run) -> RunState:
    """Where one run stands. The number of queries does not depend on what is in it."""
    return states_of([run])[0]


def states_of(runs: Iterable[Run]) -> list[RunState]:
    """Where each of these runs stands, in a number of queries that does not depend on how many there are."""
    listed = list(runs)
    prefetch_related_objects(
        listed, "checklist", Prefetch("ticks", Tick.objects.select_related("by")), "readings", "timers"
    )
    _put_sources_on(listed)
    steps = steps_by_checklist(run.checklist for run in listed)
    for run in listed:
        put_steps_on([*run.ticks.all(), *run.readings.all(), *run.timers.all()], steps[run.checklist_id])
    causes, elsewhere = _causes_found(listed), _readings_elsewhere(listed)
    timers = _timers_by_step(listed, steps)
    units = _units(listed)
    return [
        build_state(run, steps[run.checklist_id], causes, elsewhere, timers[run.pk], units[run.pk]) for run in listed
    ]


def _units(runs: Sequence[Run]) -> dict[int, UnitState]:
    """The state of each run's unit, from the ticks of all its job's runs that are at hand, oldest first."""
    by_job: dict[object, list[Run]] = defaultdict(list)
    for run in runs:
        by_job[run.job].append(run)
    jobs = {run.job for run in runs if run.said}
    told: dict[object, list[ToldOtherwise]] = defaultdict(list)
    for one in ToldOtherwise.objects.filter(job__in=jobs).select_related("by") if jobs else ():
        told[one.job].append(one)
    found: dict[int, UnitState] = {}
    for key, job in by_job.items():
        here = {run.pk for run in job}
        ticks = [
            tick
            for run in job
            for tick in run.ticks.all()
            if tick.counted_from is None or tick.counted_from.run_id not in here
        ]
        every: list[Happened] = [(tick.pk, 0, tick.step, tick.outcome) for tick in ticks]
        every += [happened(one) for one in told[key]]
        found |= {run.pk: state_from(run.facts, every) for run in job}
    return found


def _timers_by_step(runs: Sequence[Run], steps: Mapping[int, Sequence[Step]]) -> dict[int, dict[str, list[StepTimer]]]:
    """The timers of each run by step key, oldest first, with those at the same step of the job's other listed runs."""
    every = sorted(((run, timer) for run in runs for timer in run.timers.all()), key=lambda pair: pair[1].pk)
    found: dict[int, dict[str, list[StepTimer]]] = {run.pk: defaultdict(list) for run in runs}
    for run in runs if every else ():
        own = {step.key: step for step in steps[run.checklist_id]}
        for other, timer in every:
            key = timer.step.key
            if other is run or (
                other.job == run.job and key in own and reads_the_same(own[key], run.facts, timer.step, other.facts)
            ):
                found[run.pk][key].append(timer)
    return found


def _put_sources_on(runs: Sequence[Run]) -> None:
    """Give ticks that count from another run the tick they count from; no query where that run is at hand."""
    at_hand = {tick.pk: tick for run in runs for tick in run.ticks.all()}
    counted = {pk: tick.counted_from_id for pk, tick in at_hand.items() if tick.counted_from_id is not None}
    missing = set(counted.values()) - at_hand.keys()
    if missing:
        at_hand |= Tick.objects.select_related("run__checklist").in_bulk(missing)
    for pk, source in counted.items():
        at_hand[pk].counted_from = at_hand[source]


def _readings_elsewhere(runs: Sequence[Run]) -> dict[tuple[int, str], list[Reading]]:
    """Readings of the runs from which these count an answer, by run and step key; no query where they are at hand."""
    sources = {source.run_id: source.run for run in runs for tick in run.ticks.all() if (source := tick.counted_from)}
    if not sources:
        return {}
    at_hand = {run.pk: run for run in runs}
    rows = [reading for pk in sources if pk in at_hand for reading in at_hand[pk].readings.all()]
    missing = [run for pk, run in sources.items() if pk not in at_hand]
    if missing:
        steps = steps_by_checklist(run.checklist for run in missing)
        fetched = list(Reading.objects.filter(run__in=missing).order_by("pk"))
        put_steps_on(fetched, [step for of_run in steps.values() for step in of_run])
        rows += fetched
    found: dict[tuple[int, str], list[Reading]] = defaultdict(list)
    for reading in rows:
        found[reading.run_id, reading.step.key].append(reading)
    return found


def _causes_found(runs: Iterable[Run]) -> dict[str, Cause]:
    """The causes of the checklists in which something was found; no query where nothing was."""
    keys = {
        key for run in runs if any(entry.outcome == FOUND for entry in run.ticks.all()) for key in run.checklist.priors
    }
    return {cause.key: cause for cause in Cause.objects.filter(key__in=keys)} if keys else {}


def build_state(
    run: Run,
    every_step: Sequence[Step],
    causes: Mapping[str, Cause],
    elsewhere: Mapping[tuple[int, str], Sequence[Reading]],
    timers: Mapping[str, Sequence[StepTimer]],
    unit: UnitState,
) -> RunState:
    """The state from rows already fetched; asks the database nothing."""
    ticks = sorted(run.ticks.all(), key=lambda entry: entry.pk)
    applying = {step.key for step in every_step if applies(step, run.facts) != "no"}
    given = {key: outcome for key, outcome in latest_outcomes(ticks).items() if key in applying}
    latest_tick = {entry.step.key: entry for entry in ticks}
    side = Side(every_step, run.facts, given, {key for key in given if latest_tick[key].counted_from_id}, unit)
    outcomes = side.outcomes
    sources = {(tick.counted_from.run_id, tick.step.key) for tick in ticks if tick.counted_from}
    counted = [reading for source in sorted(sources) for reading in elsewhere.get(source, ())]
    readings: dict[str, dict[str, Reading]] = defaultdict(dict)
    for reading in sorted({*run.readings.all(), *counted}, key=lambda row: row.pk):
        readings[reading.step.key][reading.key] = reading

    def state(step: Step) -> StepState:
        return StepState(
            step=step,
            facts=run.facts,
            tick=latest_tick[step.key] if step.key in outcomes else None,
            readings=readings[step.key],
            timers=tuple(timers.get(step.key, ())),
            missing_needs=tuple(missing_needs(step.key, side.steps, side.needs, outcomes, unit)),  # type: ignore[arg-type]
            unmet=tuple(unit.unmet(step)),
            lapsed=latest_tick[step.key] if step.key in given and step.key not in outcomes else None,
        )

    states = {step.key: state(step) for step in every_step if step.key in applying}
    coming = side.coming
    return RunState(
        run=run,
        version=run.version,
        steps=tuple(states.values()),
        next=NextState(states[coming.key], coming.why, coming.is_plain) if coming else None,
        found=tuple(_found(states[key], causes) for key, outcome in outcomes.items() if outcome in (FOUND, NOTED)),
        missing_proof=tuple(states[step.key] for step in missing_proof(side.steps, outcomes, side.needs)),
        latest=states[next(reversed(outcomes))] if outcomes else None,
        by_key=states,
        unit=unit,
        side=side,
    )


def _found(state: StepState, causes: Mapping[str, Cause]) -> FoundState:
    answer = state.answer
    kind = kind_of(state.tick) if state.tick else CAUSE
    named = next((cause for cause in causes.values() if state.tick and cause.pk == state.tick.cause_id), None)
    if named is None and kind == CAUSE:
        named = causes.get(answer.get("cause") or "")
    return FoundState(
        step_state=state,
        cause=named,
        kind=kind,
        says=answer.get("says") or "",
        cure=answer.get("cure") or "",
        parts=tuple(answer.get("parts") or ()),
        escalate=answer.get("escalate") or "",
        call_customer=answer.get("call_customer") or "",
    )
