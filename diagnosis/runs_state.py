"""Where a run stands, for a screen or a document: each step with its answer, what is next and why, what is proved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch, prefetch_related_objects

from diagnosis.layout import DoLine, applies, lines_for
from diagnosis.layout_facts import condition_of
from diagnosis.models import Cause, Reading, Run, Step, StepTimer, Tick
from diagnosis.runs import latest_outcomes
from diagnosis.runs_rules import FOUND, answer_of, missing_needs, missing_proof, needs_of, next_step
from diagnosis.steps import put_steps_on, steps_by_checklist


@dataclass(frozen=True)
class StepState:
    """One step as this unit needs it, with what was entered. `tick` is the answer that counts, if there is one."""

    step: Step
    condition: str
    lines: tuple[DoLine, ...]
    tick: Tick | None
    readings: Mapping[str, Reading]
    timers: tuple[StepTimer, ...]
    missing_needs: tuple[Step, ...]

    @property
    def key(self) -> str:
        return self.step.key

    @property
    def outcome(self) -> str:
        return self.tick.outcome if self.tick else ""

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
    """A finding and what it leads to. `cause` is None where the step names none."""

    step_state: StepState
    cause: Cause | None
    says: str
    cure: str
    parts: Sequence[Mapping[str, Any]]
    escalate: str
    call_customer: str

    @property
    def step(self) -> Step:
        return self.step_state.step


@dataclass(frozen=True)
class NextState:
    """The next step, and why in one sentence."""

    step_state: StepState
    why: str

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
    outcomes: Mapping[str, str] = field(default_factory=dict, repr=False)
    """The answers that count, by step key, in the order in which they were given."""

    @property
    def answered(self) -> int:
        return sum(1 for state in self.steps if state.tick)

    @property
    def total(self) -> int:
        return len(self.steps)

    @property
    def is_untouched(self) -> bool:
        return not any(state.tick for state in self.steps)

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
    ticks = Prefetch("ticks", Tick.objects.select_related("by"))
    prefetch_related_objects(listed, "checklist", ticks, "readings", "timers")
    steps = steps_by_checklist(run.checklist for run in listed)
    for run in listed:
        put_steps_on([*run.ticks.all(), *run.readings.all(), *run.timers.all()], steps[run.checklist_id])
    causes = _causes_found(listed)
    return [build_state(run, steps[run.checklist_id], causes) for run in listed]


def _causes_found(runs: Iterable[Run]) -> dict[str, Cause]:
    """The causes of the checklists in which something was found; no query where nothing was."""
    keys = {
        key for run in runs if any(entry.outcome == FOUND for entry in run.ticks.all()) for key in run.checklist.priors
    }
    return {cause.key: cause for cause in Cause.objects.filter(key__in=keys)} if keys else {}


def build_state(run: Run, every_step: Sequence[Step], causes: Mapping[str, Cause]) -> RunState:
    """The state from rows already fetched; asks the database nothing."""
    steps = [step for step in every_step if applies(step, run.facts) != "no"]
    ticks = sorted(run.ticks.all(), key=lambda entry: entry.pk)
    outcomes = {key: outcome for key, outcome in latest_outcomes(ticks).items() if key in {s.key for s in steps}}
    latest_tick = {entry.step.key: entry for entry in ticks}
    readings: dict[int, dict[str, Reading]] = defaultdict(dict)
    for reading in sorted(run.readings.all(), key=lambda row: row.pk):
        readings[reading.step_id][reading.key] = reading
    timers: dict[int, list[StepTimer]] = defaultdict(list)
    for timer in sorted(run.timers.all(), key=lambda row: row.pk):
        timers[timer.step_id].append(timer)
    needs = needs_of(every_step, run.facts)

    def state(step: Step) -> StepState:
        return StepState(
            step=step,
            condition=condition_of(step, run.facts),
            lines=lines_for(step, run.facts),
            tick=latest_tick[step.key] if step.key in outcomes else None,
            readings=readings[step.pk],
            timers=tuple(timers[step.pk]),
            missing_needs=tuple(missing_needs(step.key, steps, needs, outcomes)),  # type: ignore[arg-type]
        )

    states = {step.key: state(step) for step in steps}
    coming = next_step(steps, run.facts, outcomes, needs=needs)
    return RunState(
        run=run,
        version=run.version,
        steps=tuple(states.values()),
        next=NextState(states[coming.key], coming.why) if coming else None,
        found=tuple(_found(states[key], causes) for key, outcome in outcomes.items() if outcome == FOUND),
        missing_proof=tuple(states[step.key] for step in missing_proof(steps, outcomes, needs)),
        latest=states[next(reversed(outcomes))] if outcomes else None,
        by_key=states,
        outcomes=outcomes,
    )


def _found(state: StepState, causes: Mapping[str, Cause]) -> FoundState:
    answer = state.answer
    return FoundState(
        step_state=state,
        cause=next((cause for cause in causes.values() if state.tick and cause.pk == state.tick.cause_id), None)
        or causes.get(answer.get("cause") or ""),
        says=answer.get("says") or "",
        cure=answer.get("cure") or "",
        parts=tuple(answer.get("parts") or ()),
        escalate=answer.get("escalate") or "",
        call_customer=answer.get("call_customer") or "",
    )
