"""The runs of one job: an answer to a step they share is written down in each of them, and undone in each."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import connection
from django.db.models import F

from diagnosis.layout import applies
from diagnosis.layout_facts import Facts
from diagnosis.layout_plans import BY_THE_WAY, DANGER, PROOF
from diagnosis.models import Cause, Reading, Run, Step, Tick, ToldOtherwise
from diagnosis.runs_claim import TickRow
from diagnosis.runs_rules import (
    FOUND,
    PROVED,
    TAKEN_BACK,
    Outcomes,
    can_end_search,
    causes_of,
    counts_as,
    missing_proof,
)
from diagnosis.shared_steps import Side, carried_over, counts_in
from diagnosis.steps import put_steps_on, steps_by_checklist
from diagnosis.told import TOLD, Told
from diagnosis.unit_state import UnitState, state_after


@dataclass
class RunRecord:
    """A run with its ticks, oldest first, as the rules need it. `added` are those of this transaction."""

    run: Run
    every_step: Sequence[Step]
    ticks: list[Tick]
    added: list[Tick] = field(default_factory=list)
    unit: UnitState | None = None

    @property
    def latest(self) -> dict[str, Tick]:
        """The latest tick of each step, in the order in which the steps were last ticked; taken back ones too."""
        found: dict[str, Tick] = {}
        for tick in self.ticks:
            found.pop(tick.step.key, None)
            found[tick.step.key] = tick
        return found

    @property
    def side(self) -> Side:
        outcomes = {
            key: counts_as(tick.step, tick.outcome, tick.finding, names_cause=tick.cause_id is not None)
            for key, tick in self.latest.items()
            if tick.outcome != TAKEN_BACK
        }
        elsewhere = {key for key, tick in self.latest.items() if tick.counted_from_id}
        return Side(self.every_step, self.run.facts, outcomes, elsewhere, self.unit)

    def add(
        self, source: Tick, like: Tick, step_key: str, outcome: str, note: str, cause: Cause | None, finding: str = ""
    ) -> None:
        """Write down what follows here from `source`, a tick of another run; who and when are those of `like`."""
        step = next(step for step in self.every_step if step.key == step_key)
        made = Tick.objects.create(
            run=self.run,
            step=step,
            client_id=uuid.uuid5(source.client_id, f"{self.run.pk} {step_key} {outcome}"),
            outcome=outcome,
            cause=cause if cause is not None and cause.key in causes_of(step) else None,
            finding=_finding_here(step, outcome, finding),
            note=note,
            counted_from_id=like.counted_from_id or like.pk,
            by_id=like.by_id,
            ticked_at=like.ticked_at,
        )
        self.ticks.append(made)
        self.added.append(made)


def _finding_here(step: Step, outcome: str, finding: str) -> str:
    """What a finding of another run is in this one: a danger stays one, and what can be no cause here is by the way."""
    if outcome != FOUND or finding == DANGER:
        return finding if outcome == FOUND else ""
    return finding if can_end_search(step) else BY_THE_WAY


def hold_job(run: Run) -> list[Run]:
    """The other runs of the job, oldest first, all of them held until the transaction ends.

    They are locked in one order, so that ticks in two of them wait for each other and never for ever, and read after
    the lock, so that a run that was begun meanwhile is among them. SQLite lets one writer in and needs no locks.
    """
    job = Run.objects.filter(job=run.job).order_by("pk")
    if connection.features.has_select_for_update:
        list(job.select_for_update().values_list("pk"))
    light = dict(job.values_list("pk", "said"))  # a light look: most jobs are one run, and nothing was told in them
    run.said = max(light.values(), default=run.said)
    others = [pk for pk in light if pk != run.pk]
    return list(job.filter(pk__in=others).select_related("checklist")) if others else []


def unit_of_job(
    run: Run, steps: Sequence[Step], rows: Sequence[TickRow], others: Sequence[RunRecord] = ()
) -> UnitState:
    """The state of the unit from every tick of the job, and what was told between them.

    What one run counts from another was ticked there. A query more only where something was told.
    """
    by_pk = {step.pk: step for step in steps}
    ticks: list[Happened] = [
        (row.pk, 0, by_pk[row.step_id], row.outcome) for row in rows if not (others and row.counted_from_id)
    ]
    for record in others:
        ticks += [(tick.pk, 0, tick.step, tick.outcome) for tick in record.ticks if not tick.counted_from_id]
    told = [happened(one) for one in ToldOtherwise.objects.filter(job=run.job)] if run.said else []
    return state_from(run.facts, [*ticks, *told])


Happened = tuple[int, int, Any, str]
"""What happened to the unit, in its order: after or by which tick, which of those told after it, what, and how."""


def happened(told: ToldOtherwise) -> Happened:
    return told.after_tick, told.pk, Told(told.part, told.value), TOLD


def state_from(facts: Facts, every: Iterable[Happened]) -> UnitState:
    ordered = sorted(every, key=lambda one: one[:2])
    return state_after(facts, ((step, outcome) for _, _, step, outcome in ordered))


def latest_tick(run: Run, step: Step) -> Tick:
    """The tick that counts for a step which was ticked."""
    return Tick.objects.select_related("step").filter(run=run, step=step).latest("pk")


def records_of(runs: Iterable[Run]) -> list[RunRecord]:
    """The runs with their ticks, in one query for all."""
    listed = list(runs)
    steps = steps_by_checklist(run.checklist for run in listed)
    ticks: dict[int, list[Tick]] = {run.pk: [] for run in listed}
    rows = Tick.objects.filter(run__in=listed).select_related("cause").order_by("pk") if listed else ()
    for tick in rows:
        ticks[tick.run_id].append(tick)
    for run in listed:
        put_steps_on(ticks[run.pk], steps[run.checklist_id])
    return [RunRecord(run, steps[run.checklist_id], ticks[run.pk]) for run in listed]


def count_in_others(made: Tick, own: Side, others: Sequence[RunRecord]) -> None:
    """Write down in the other runs of the job what an answer means for them; `own` is the run as it stood before."""
    for record in others:
        cause = made.cause.key if made.cause else ""
        for counted in counts_in(record.side, own, made.step.key, made.outcome, cause):
            record.add(made, made, counted.key, counted.outcome, counted.why or made.note, made.cause, made.finding)
        _save(record)


def undo_in_others(undone: Tick, taking_back: Tick, others: Sequence[RunRecord]) -> None:
    """Undo in the other runs what `undone` was written down as there, and what it had set aside."""
    origin = undone.counted_from_id or undone.pk
    for record in others:
        for key, tick in record.latest.items():
            if origin not in (tick.pk, tick.counted_from_id):
                continue
            if tick.outcome != TAKEN_BACK:
                record.add(taking_back, taking_back, key, TAKEN_BACK, taking_back.note, None)
                continue
            earlier = [entry for entry in record.ticks if entry.step_id == tick.step_id and entry.pk < tick.pk]
            if earlier and earlier[-1].outcome != TAKEN_BACK:
                last = earlier[-1]
                record.add(taking_back, last, key, last.outcome, last.note, last.cause, last.finding)
        _save(record)


def resting_elsewhere(undone: Tick, others: Sequence[RunRecord]) -> list[str]:
    """Titles of answered steps of the other runs that rest on an answer which is to be undone there too."""
    origin, titles = undone.counted_from_id or undone.pk, []
    for record in others:
        side = record.side
        for key, tick in record.latest.items():
            if origin in (tick.pk, tick.counted_from_id) and tick.outcome != TAKEN_BACK:
                titles += [step.title for step in side.resting_on(key)]
    return list(dict.fromkeys(titles))


def carry_over(run: Run, others: Sequence[Run]) -> None:
    """Give a run that begins beside others what they have answered already; the newest answer of a step counts."""
    begun, *records = records_of([run, *others])
    answers = [
        (tick.pk, key, tick)
        for record in records
        for latest in [record.latest]
        for key in carried_over(begun.side, record.side)
        for tick in [latest[key]]
    ]
    newest = {key: tick for _, key, tick in sorted(answers, key=lambda answer: answer[0])}
    for tick in sorted(newest.values(), key=lambda tick: tick.pk):
        begun.add(tick, tick, tick.step.key, tick.outcome, tick.note, tick.cause, tick.finding)
    _save(begun)


def readings_at(run: Run, step: Step, *, alone: bool = False) -> list[Reading]:
    """Every reading at a step, oldest first, wherever in the job it was taken; `alone` if the job has no other run."""
    rows = Reading.objects.filter(run=run, step=step)
    if not alone:
        elsewhere = Tick.objects.filter(run=run, step=step, counted_from__isnull=False)
        rows = rows | Reading.objects.filter(run__in=elsewhere.values("counted_from__run"), step__key=step.key)
    return list(rows.order_by("pk"))


def mark_end(
    run: Run, steps: Sequence[Step], outcomes: Outcomes, at: dt.datetime, unit: UnitState | None = None
) -> None:
    """Keep when a run came to its end: nothing left to do, nothing open, everything proved.

    A further tick opens it again.
    """
    proofs = [step for step in steps if step.kind == PROOF and applies(step, run.facts) != "no"]
    if any(outcomes.get(step.key) != PROVED for step in proofs):
        return
    if unit is not None and unit.open_parts:
        return
    side = Side(steps, run.facts, outcomes, unit=unit)
    if side.coming is None and not missing_proof(side.steps, side.outcomes, side.needs):
        run.ended_at = max(at, run.started_at)
        Run.objects.filter(pk=run.pk).update(ended_at=run.ended_at)


def _save(record: RunRecord) -> None:
    """A tick advances the version of its run, also one that follows from another run's."""
    if not record.added:
        return
    Run.objects.filter(pk=record.run.pk).update(version=F("version") + len(record.added), ended_at=None)
    mark_end(record.run, record.every_step, record.side.outcomes, record.added[-1].ticked_at, record.unit)
    record.added.clear()
