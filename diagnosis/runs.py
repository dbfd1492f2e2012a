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

from diagnosis.coverage import is_of_its_own_kind, refusal, what_it_leaves_out
from diagnosis.models import Cause, Checklist, Reading, Run, Step, Tick
from diagnosis.runs_causes import finding_of, says_otherwise
from diagnosis.runs_claim import (
    claim,
    in_between,
    outcomes_of_rows,
    rows_of_claim,
    stored_tick,
)
from diagnosis.runs_judging import AnswerJudge, applying_step
from diagnosis.runs_readings import ReadingsRefused, Typed, TypedReading, read_all, wants_reason
from diagnosis.runs_refusals import (
    NotCovered,
    ReadingsMissing,
    ReusedClientId,
    StaleRun,
    StepNeedsOthers,
    TickRefused,
    UnitNotSo,
    WaitsForOthers,
)
from diagnosis.runs_rules import (
    ALL_WELL,
    TAKEN_BACK,
    WITHOUT_READINGS,
    counts_as,
)
from diagnosis.runs_shared import (
    carry_over,
    count_in_others,
    hold_job,
    mark_end,
    readings_at,
    records_of,
    undo_in_others,
    unit_of_job,
)
from diagnosis.runs_told import refuse_by_told
from diagnosis.shared_steps import Side
from diagnosis.steps import steps_of
from diagnosis.unit_state import LEFT_EARLY
from diagnosis.wanted import is_judged
from specs.facts import FACTS, FactValue

__all__ = [
    "NotCovered", "ReadingsMissing", "ReusedClientId", "StaleRun", "StepAnswer", "StepNeedsOthers", "TickRefused",
    "Ticked", "TypedReadings", "UnitNotSo", "WaitsForOthers", "latest_outcomes", "start_run", "step_of_run",
    "take_back", "take_back_within", "tick", "tick_within",
]  # fmt: skip


TypedReadings = Typed
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
    finding: str = ""
    behind: Collection[str] = ()
    seen_said: int | None = None
    """How often something had been told of the unit when the sender saw it; None if it does not say."""
    left_early: bool = False
    """The step's wait was not kept: an answer that all is well is stored as LEFT_EARLY."""

    @property
    def counted(self) -> str:
        return LEFT_EARLY if self.left_early and self.outcome in ALL_WELL else self.outcome


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

    Raises NotCovered for a kind of unit that the checklist never asks for.
    """
    unknown = set(facts) - set(FACTS)
    if unknown:
        raise ValueError(f"no such fact: {', '.join(sorted(unknown))}")
    if is_of_its_own_kind(facts) and (left_out := what_it_leaves_out(steps_of(checklist), facts)):
        raise NotCovered(refusal(checklist.title, left_out))
    others = [beside, *hold_job(beside)] if beside is not None else []
    run = Run(checklist=checklist, facts=dict(facts), started_by_id=by.pk if by else None)
    if beside is not None:
        run.job, run.said = beside.job, beside.said
    run.full_clean(exclude=["checklist", "started_by", "facts"])
    run.save()
    if others:
        carry_over(run, others)
        run.refresh_from_db()
    return run


@dataclass(frozen=True)
class Ticked:
    """What became of a tick, and whether it took another answer's place.

    `version` is that up to which its sender knows the run now: the run's own, unless somebody else ticked in between.
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
    finding: str = "",
) -> Tick:
    """Answer a step, with its readings. The same `client_id` again gives the stored tick and changes nothing.

    `cause_key` says which cause was found where the step leaves a choice; empty if the mechanic cannot say. `finding`
    is one of diagnosis.layout_plans.FINDINGS, or empty for what the checklist says is likeliest.
    `after` names ticks since `seen_version` that the sender made itself.

    Raises:
        StaleRun: the run was ticked after `seen_version`; nothing is saved. ReusedClientId if the id is another's.
        TickRefused: no such step here, an outcome its kind or a cause its finding does not have, or steps that
            must come first.
        ReadingsMissing: a required reading is neither typed nor stored.
        diagnosis.runs_readings.ReadingsRefused: a reading cannot be taken.
    """
    answer = StepAnswer(outcome, seen_version, client_id, note, cause_key, readings, ticked_at, after, finding)
    return tick_within(run=run, step_key=step_key, by=by, answer=answer).tick


def tick_within(*, run: Run, step_key: str, by: AbstractBaseUser | None, answer: StepAnswer) -> Ticked:
    """As `tick`, inside the caller's transaction, which must end when this raises. As few statements as it can do."""
    others = hold_job(run)
    rows, outcome = rows_of_claim(run), answer.outcome
    steps, beside = steps_of(run.checklist), records_of(others) if others else []
    between = in_between(run, steps, rows, step_key, answer.seen_version, answer.client_id, answer.after)
    stored = stored_tick(run, step_key, outcome, answer.client_id, rows)
    if stored is None:
        judge = AnswerJudge(run, steps, outcomes_of_rows(rows, steps), unit_of_job(run, steps, rows, beside))
        judge.refuse_by_news(step_key, answer.outcome, between, answer.behind, beside)
        refuse_by_told(run, applying_step(steps, step_key, run), answer.seen_said)
        stored = claim(run, step_key, outcome, answer.client_id, between, answer.after)
    if stored is not None:
        if says_otherwise(stored, answer.cause_key, answer.finding):
            run.refresh_from_db()
            raise ReusedClientId(run, [stored])
        return Ticked(stored, between.seen(len(rows) + 1), repeated=True)
    outcomes, unit = judge.outcomes, judge.unit
    step = applying_step(steps, step_key, run)
    judge.refuse_answer(step, outcome)
    finding, cause = finding_of(step, outcome, answer.finding, answer.cause_key)
    taken = read_all(step.readings, answer.readings, all_well=outcome in ALL_WELL)
    replaces = any(row.step_id == step.pk for row in rows)
    kept = _kept_readings(run, step, outcome, taken, ticked_before=replaces, alone=not others)
    if outcome in ALL_WELL:
        _refuse_kept_outside(step, kept, taken, answer.readings)
    made = _add_tick(run, step, by, answer, cause, finding)
    _add_readings(run, step, taken, kept, by, answer.client_id, made.ticked_at)
    before, unit = unit, unit.after(step, made.outcome)
    if others:
        for record in beside:
            record.unit = unit
        count_in_others(made, Side(steps, run.facts, dict(outcomes), unit=before), beside)
    outcomes.pop(step.key, None)
    outcomes[step.key] = counts_as(step, made.outcome, finding, names_cause=cause is not None)
    mark_end(run, steps, outcomes, made.ticked_at, unit)
    return Ticked(made, between.seen(run.version), replaces=replaces, outcomes=outcomes)


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
    rows = rows_of_claim(run)
    steps, beside = steps_of(run.checklist), records_of(others) if others else []
    between = in_between(run, steps, rows, step_key, answer.seen_version, answer.client_id, answer.after)
    stored = stored_tick(run, step_key, TAKEN_BACK, answer.client_id, rows)
    if stored is None:
        judge = AnswerJudge(run, steps, outcomes_of_rows(rows, steps), unit_of_job(run, steps, rows, beside))
        judge.refuse_by_news(step_key, answer.outcome, between, answer.behind, beside)
        refuse_by_told(run, applying_step(steps, step_key, run), answer.seen_said)
        stored = claim(run, step_key, TAKEN_BACK, answer.client_id, between, answer.after)
    if stored is not None:
        return Ticked(stored, between.seen(len(rows) + 1), repeated=True)
    outcomes = judge.outcomes
    step = applying_step(steps, step_key, run)
    undone = judge.refuse_taking_back(step, beside)
    made = _add_tick(run, step, by, answer)
    unit = judge.unit.after(step, TAKEN_BACK)
    if undone is not None:
        for record in beside:
            record.unit = unit
        undo_in_others(undone, made, beside)
    del outcomes[step.key]
    mark_end(run, steps, outcomes, made.ticked_at, unit)
    return Ticked(made, between.seen(run.version), replaces=True, outcomes=outcomes)


def step_of_run(run: Run, step_key: str) -> Step:
    """A step that applies to the run's unit. Raises TickRefused for another."""
    return applying_step(steps_of(run.checklist), step_key, run)


def latest_outcomes(ticks: list[Tick]) -> dict[str, str]:
    """What counts for each step (`counts_as` in runs_rules), in the order in which the steps were last answered."""
    latest: dict[str, str] = {}
    for entry in ticks:
        latest.pop(entry.step.key, None)
        if entry.outcome != TAKEN_BACK:
            names_cause = entry.cause_id is not None
            latest[entry.step.key] = counts_as(entry.step, entry.outcome, entry.finding, names_cause=names_cause)
    return latest


def _kept_readings(
    run: Run, step: Step, outcome: str, taken: Sequence[TypedReading], *, ticked_before: bool, alone: bool
) -> list[Reading]:
    """What was read at the step before, looked for only where it can matter. Raises ReadingsMissing."""
    required = {plan["key"]: plan["label"] for plan in step.readings if plan.get("required")}
    absent = set() if outcome in WITHOUT_READINGS else set(required) - {reading.key for reading in taken}
    judged = any(is_judged(plan) for plan in step.readings)
    if not absent and not (ticked_before and (taken or judged)):
        return []
    kept = readings_at(run, step, alone=alone)
    absent -= {reading.key for reading in kept}
    if absent:
        raise ReadingsMissing({key: label for key, label in required.items() if key in absent})
    return kept


def _refuse_kept_outside(step: Step, kept: Sequence[Reading], taken: Sequence[TypedReading], given: Typed) -> None:
    """A reading from before that is outside, and of which nobody said why, does not make a good answer either."""
    latest = {reading.key: reading for reading in kept}
    anew = {reading.key for reading in taken}
    errors = {}
    for plan in step.readings:
        reading = latest.get(plan["key"])
        if reading is None or reading.magnitude_si is None or plan["key"] in anew or reading.reason:
            continue
        judgement = given.judged(plan, reading.magnitude_si)
        if judgement.standing == "outside":
            errors[plan["key"]] = wants_reason(judgement)
    if errors:
        raise ReadingsRefused(errors, want_reasons=errors)


def _add_tick(
    run: Run,
    step: Step,
    by: AbstractBaseUser | None,
    answer: StepAnswer,
    cause: Cause | None = None,
    finding: str = "",
) -> Tick:
    made = Tick(
        run=run,
        step=step,
        client_id=answer.client_id,
        outcome=answer.counted,
        cause=cause,
        finding=finding,
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
        reading for reading in taken if reading.key not in stored or not _is_as_stored(reading, stored[reading.key])
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
            held_against=dict(reading.held_against),
            outside=reading.is_outside,
            reason=reading.reason,
            client_id=client_id,
            by_id=by.pk if by else None,
            read_at=read_at,
        )
        for reading in changed
    )


def _is_as_stored(reading: TypedReading, stored: Reading) -> bool:
    return (reading.typed, reading.magnitude_si, reading.reason, dict(reading.held_against)) == (
        stored.typed,
        stored.magnitude_si,
        stored.reason,
        stored.held_against,
    )
