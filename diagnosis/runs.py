"""Working through a checklist: start a run, tick its steps, take a tick back, read values.

Every write carries an id made by the sender, so that sending it again is harmless. Ticks also carry the version of
the run that the sender saw: of two tablets at once, the second is told what the first did. Only ticks advance it, by
one each, so a run at version 4 has three ticks. A tablet that was cut off names the ids of its own ticks since that
version as well (`after`): they are no news to it, and everybody else's are.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from django.contrib.auth.base_user import AbstractBaseUser
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from diagnosis.layout import applies
from diagnosis.models import Cause, Checklist, Reading, Run, Step, Tick
from diagnosis.runs_causes import cause_found, names_another_cause
from diagnosis.runs_claim import claim, outcomes_of, rows_of_claim, stored_tick
from diagnosis.runs_readings import TypedReading, read_all
from diagnosis.runs_refusals import (
    ReadingsMissing,
    ReusedClientId,
    StaleRun,
    StepNeedsOthers,
    TickRefused,
    UnitNotSo,
)
from diagnosis.runs_rules import (
    TAKEN_BACK,
    WITHOUT_READINGS,
    lawful_outcomes,
    missing_needs,
    needs_of,
)
from diagnosis.runs_shared import (
    carry_over,
    count_in_others,
    hold_job,
    latest_tick,
    mark_end,
    readings_at,
    records_of,
    resting_elsewhere,
    undo_in_others,
    unit_of_job,
)
from diagnosis.shared_steps import Side
from diagnosis.steps import steps_of
from diagnosis.unit_state import UNSURE, UnitState, dangers
from specs.facts import FACTS, FactValue

__all__ = [
    "ReadingsMissing", "ReusedClientId", "StaleRun", "StepAnswer", "StepNeedsOthers", "TickRefused", "Ticked",
    "TypedReadings", "UnitNotSo", "latest_outcomes", "start_run", "step_of_run", "take_back",
    "take_back_within", "tick", "tick_within",
]  # fmt: skip


@dataclass(frozen=True)
class TypedReadings:
    """What was typed at a step, and how it is to be read; see diagnosis.runs_readings.read_all."""

    typed: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    max_pressure_pa: float | None = None
    above_maximum_is_meant: bool = False


NOTHING_TYPED = TypedReadings()


@dataclass(frozen=True)
class StepAnswer:
    """How a step ended, or TAKEN_BACK, as its sender gave it; `tick` says what each is."""

    outcome: str
    seen_version: int
    client_id: uuid.UUID
    note: str = ""
    cause_key: str = ""
    readings: TypedReadings = NOTHING_TYPED
    ticked_at: dt.datetime | None = None
    after: Collection[uuid.UUID] = ()


@transaction.atomic
def start_run(
    *,
    checklist: Checklist,
    facts: Mapping[str, FactValue | None],
    by: AbstractBaseUser | None,
    beside: Run | None = None,
) -> Run:
    """Begin a checklist on a unit with these facts, which the run keeps. Facts nobody knows may be left out.

    `beside` is a run of the same job: what was answered there and is the same here counts from the start.
    """
    unknown = set(facts) - set(FACTS)
    if unknown:
        raise ValueError(f"no such fact: {', '.join(sorted(unknown))}")
    others = [beside, *hold_job(beside)] if beside is not None else []
    run = Run(checklist=checklist, facts=dict(facts), started_by_id=by.pk if by else None)
    if beside is not None:
        run.job = beside.job
    run.full_clean(exclude=["checklist", "started_by", "facts"])
    run.save()
    if others:
        carry_over(run, others)
        run.refresh_from_db()
    return run


@dataclass(frozen=True)
class Ticked:
    """What became of a tick: the version of the run after it, and whether it took another answer's place.

    `repeated`: it was stored before and nothing was done. `outcomes`: the answers that count, this one too.
    """

    tick: Tick
    version: int
    repeated: bool = False
    replaces: bool = False
    outcomes: Mapping[str, str] = field(default_factory=dict)


@transaction.atomic
def tick(
    *,
    run: Run,
    step_key: str,
    outcome: str,
    by: AbstractBaseUser | None,
    seen_version: int,
    client_id: uuid.UUID,
    note: str = "",
    cause_key: str = "",
    readings: TypedReadings = NOTHING_TYPED,
    ticked_at: dt.datetime | None = None,
    after: Collection[uuid.UUID] = (),
) -> Tick:
    """Answer a step, with its readings. The same `client_id` again gives the stored tick and changes nothing.

    `cause_key` says which cause was found where the step leaves a choice; empty if the mechanic cannot say.
    `after` names ticks since `seen_version` that the sender made itself.

    Raises:
        StaleRun: the run was ticked after `seen_version`; nothing is saved. ReusedClientId if the id is another's.
        TickRefused: no such step here, an outcome its kind or a cause its finding does not have, or steps that
            must come first.
        ReadingsMissing: a required reading is neither typed nor stored.
        diagnosis.runs_readings.ReadingsRefused: a reading cannot be taken.
    """
    answer = StepAnswer(outcome, seen_version, client_id, note, cause_key, readings, ticked_at, after)
    return tick_within(run=run, step_key=step_key, by=by, answer=answer).tick


def tick_within(*, run: Run, step_key: str, by: AbstractBaseUser | None, answer: StepAnswer) -> Ticked:
    """As `tick`, inside the caller's transaction, which must end when this raises. As few statements as it can do."""
    others = hold_job(run)
    rows, outcome = rows_of_claim(run), answer.outcome
    sent = (step_key, outcome, answer.client_id)
    stored = stored_tick(run, *sent, rows) or claim(run, answer.seen_version, *sent, rows, answer.after)
    if stored is not None:
        if names_another_cause(stored, answer.cause_key):
            run.refresh_from_db()
            raise ReusedClientId(run, [stored])
        return Ticked(stored, len(rows) + 1, repeated=True)
    steps = steps_of(run.checklist)
    outcomes = outcomes_of(rows, steps)
    step = _step_of(steps, step_key, run)
    if not outcome:
        raise TickRefused("Choose how the step ended.")
    if outcome not in lawful_outcomes(step.kind):
        raise TickRefused(f"“{outcome}” is no answer to a step of this kind.")
    if step.needs:
        missing = missing_needs(step.key, _applying(steps, run), needs_of(steps, run.facts), outcomes)
        if missing:
            now = unit_of_job(run, steps, rows, records_of(others) if others else [])
            raise StepNeedsOthers(step, missing, _dangers(now, step, outcome))  # type: ignore[arg-type]
    beside = records_of(others) if others else []
    unit = unit_of_job(run, steps, rows, beside)
    _refuse_danger(unit, Side(steps, run.facts, outcomes, unit=unit), step, outcome)
    cause = cause_found(step, outcome, answer.cause_key)
    taken = _read(step, answer.readings)
    replaces = any(row.step_id == step.pk for row in rows)
    kept = _kept_readings(run, step, outcome, taken, ticked_before=replaces, alone=not others)
    made = _add_tick(run, step, by, answer, cause)
    _add_readings(run, step, taken, kept, by, answer.client_id, made.ticked_at)
    before, unit = unit, unit.after(step, outcome)
    if others:
        for record in beside:
            record.unit = unit
        count_in_others(made, Side(steps, run.facts, dict(outcomes), unit=before), beside)
    outcomes.pop(step.key, None)
    outcomes |= {step.key: outcome}
    mark_end(run, steps, outcomes, made.ticked_at, unit)
    return Ticked(made, run.version, replaces=replaces, outcomes=outcomes)


@transaction.atomic
def take_back(
    *, run: Run, step_key: str, by: AbstractBaseUser | None, seen_version: int, client_id: uuid.UUID, note: str = ""
) -> Tick:
    """Undo the answer of a step. It stays in the record; a further row says that it was taken back.

    Raises StaleRun as `tick` does, and TickRefused if there is no answer or a later one rests on it.
    """
    answer = StepAnswer(TAKEN_BACK, seen_version, client_id, note)
    return take_back_within(run=run, step_key=step_key, by=by, answer=answer).tick


def take_back_within(*, run: Run, step_key: str, by: AbstractBaseUser | None, answer: StepAnswer) -> Ticked:
    """As `take_back`, of an answer TAKEN_BACK, inside the caller's transaction, which must end when this raises."""
    others = hold_job(run)
    rows, sent = rows_of_claim(run), (step_key, TAKEN_BACK, answer.client_id)
    stored = stored_tick(run, *sent, rows) or claim(run, answer.seen_version, *sent, rows, answer.after)
    if stored is not None:
        return Ticked(stored, len(rows) + 1, repeated=True)
    steps = steps_of(run.checklist)
    outcomes = outcomes_of(rows, steps)
    step = _step_of(steps, step_key, run)
    if step.key not in outcomes:
        raise TickRefused(f"“{step.title}” has no answer to take back.")
    needs = needs_of(steps, run.facts)
    resting = [other.title for other in steps if other.key in outcomes and step.key in needs[other.key]]
    undone, beside = (latest_tick(run, step), records_of(others)) if others else (None, [])
    if undone is not None:
        resting += [title for title in resting_elsewhere(undone, beside) if title not in resting]
    if resting:
        titles = ", ".join(f"“{title}”" for title in resting)
        raise TickRefused(f"“{step.title}” cannot be taken back while {titles} rests on it. Take that back first.")
    made = _add_tick(run, step, by, answer)
    unit = unit_of_job(run, steps, rows, beside).after(step, TAKEN_BACK)
    if undone is not None:
        for record in beside:
            record.unit = unit
        undo_in_others(undone, made, beside)
    del outcomes[step.key]
    mark_end(run, steps, outcomes, made.ticked_at, unit)
    return Ticked(made, run.version, replaces=True, outcomes=outcomes)


def step_of_run(run: Run, step_key: str) -> Step:
    """A step that applies to the run's unit. Raises TickRefused for another."""
    return _step_of(steps_of(run.checklist), step_key, run)


def latest_outcomes(ticks: list[Tick]) -> dict[str, str]:
    """The outcome that counts for each step, in the order in which the steps were last answered."""
    latest: dict[str, str] = {}
    for entry in ticks:
        latest.pop(entry.step.key, None)
        if entry.outcome != TAKEN_BACK:
            latest[entry.step.key] = entry.outcome
    return latest


def _refuse_danger(unit: UnitState, side: Side, step: Step, outcome: str) -> None:
    """Raise UnitNotSo where the answer says that something dangerous was done. What was not done is always taken."""
    said = _dangers(unit, step, outcome)
    if not said:
        return
    found = side.first_before(step.key)
    first = found.step if found is not None and found.step.key != step.key else None
    again = " again" if first is not None and first.key in unit.answered else ""
    way = f" First do “{first.title}”{again}." if first is not None else ""
    raise UnitNotSo(f"“{step.title}” is dangerous now: {', and '.join(said)}.{way}")


def _dangers(unit: UnitState, step: Step, outcome: str) -> list[str]:
    """What makes it dangerous to say that the step was done, in words; nothing where it was not done."""
    if outcome in UNSURE:
        return []
    said = [unmet.words for unmet in unit.unmet(step) if unmet.is_danger]
    return list(dict.fromkeys([*said, *(danger.words for danger in dangers(unit, step, outcome))]))


def _applying(steps: Sequence[Step], run: Run) -> list[Step]:
    return [step for step in steps if applies(step, run.facts) != "no"]


def _step_of(steps: Sequence[Step], key: str, run: Run) -> Step:
    for step in steps:
        if step.key == key and applies(step, run.facts) != "no":
            return step
    raise TickRefused("That step is not part of this run.")


def _read(step: Step, readings: TypedReadings) -> list[TypedReading]:
    return read_all(
        step.readings,
        readings.typed,
        readings.units,
        max_pressure_pa=readings.max_pressure_pa,
        above_maximum_is_meant=readings.above_maximum_is_meant,
    )


def _kept_readings(
    run: Run, step: Step, outcome: str, taken: Sequence[TypedReading], *, ticked_before: bool, alone: bool
) -> list[Reading]:
    """What was read at the step before, looked for only where it can matter. Raises ReadingsMissing."""
    required = {plan["key"]: plan["label"] for plan in step.readings if plan.get("required")}
    absent = set() if outcome in WITHOUT_READINGS else set(required) - {reading.key for reading in taken}
    if not absent and not (ticked_before and taken):
        return []
    kept = readings_at(run, step, alone=alone)
    absent -= {reading.key for reading in kept}
    if absent:
        raise ReadingsMissing({key: label for key, label in required.items() if key in absent})
    return kept


def _add_tick(
    run: Run, step: Step, by: AbstractBaseUser | None, answer: StepAnswer, cause: Cause | None = None
) -> Tick:
    made = Tick(
        run=run,
        step=step,
        client_id=answer.client_id,
        outcome=answer.outcome,
        cause=cause,
        note=answer.note.strip(),
        by_id=by.pk if by else None,
        ticked_at=answer.ticked_at or timezone.now(),
    )
    try:
        # Outcome and cause were judged before; asking the constraints costs a statement each.
        made.full_clean(exclude=["run", "step", "by", "cause"], validate_unique=False, validate_constraints=False)
    except ValidationError as error:
        raise TickRefused(" ".join(error.messages)) from error
    try:
        made.save(force_insert=True)
    except IntegrityError as error:  # the same id at the same moment, on another run
        raise TickRefused("This was sent twice at once. Reload the page and look before you try again.") from error
    return made


def _add_readings(
    run: Run,
    step: Step,
    taken: list[TypedReading],
    kept: Sequence[Reading],
    by: AbstractBaseUser | None,
    client_id: uuid.UUID,
    read_at: dt.datetime,
) -> list[Reading]:
    """Only what is new: a form sends back the readings that were already in it."""
    stored = {reading.key: reading for reading in kept}
    changed = [
        reading
        for reading in taken
        if reading.key not in stored
        or (reading.typed, reading.magnitude_si) != (stored[reading.key].typed, stored[reading.key].magnitude_si)
    ]
    if not changed:
        return []
    return Reading.objects.bulk_create(
        Reading(
            run=run,
            step=step,
            key=reading.key,
            magnitude_si=reading.magnitude_si,
            typed=reading.typed,
            client_id=client_id,
            by_id=by.pk if by else None,
            read_at=read_at,
        )
        for reading in changed
    )
