"""Saying that the unit is otherwise than the ticks have it, and taking that back: the rules and the writes."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction
from django.db.models import F, Max
from django.utils import timezone

from diagnosis.in_between import can_tell, rests_on
from diagnosis.layout import applies
from diagnosis.models import Run, Step, Tick, ToldOtherwise
from diagnosis.runs_refusals import TickRefused
from diagnosis.runs_shared import hold_job
from diagnosis.steps import steps_by_checklist, steps_of
from diagnosis.told import LONGEST_NOTE, Told, can_be_told
from diagnosis.unit_parts import CHARGED, EMPTY, LEVEL, PARTS, UNKNOWN
from diagnosis.unit_state import UnitState

_OF_BOTH_CHAMBERS: Mapping[str, str] = {
    EMPTY: "the air chambers are empty",
    CHARGED: "there is air in the air chambers",
    LEVEL: "there is air in the air chambers, level with each other",
    UNKNOWN: "nobody has made sure whether there is air in the air chambers",
}


class ToldMeanwhile(TickRefused):
    """Somebody ticked, or told something of the unit, after the sender saw it."""


def conditions_for(runs: Iterable[Run], unit: UnitState) -> dict[str, tuple[str, ...]]:
    """What can be told of this unit, by part: of the parts that the job's checklists close again."""
    listed = list(runs)
    by_list = steps_by_checklist(run.checklist for run in listed)
    here = {step.pk: step for run in listed for step in by_list[run.checklist_id] if applies(step, run.facts) != "no"}
    return {part: values for part, values in can_be_told(list(here.values())).items() if part in unit.conditions}


@transaction.atomic
def tell(
    *,
    run: Run,
    part: str,
    value: str,
    by: AbstractBaseUser | None,
    client_id: uuid.UUID,
    seen_version: int,
    seen_said: int,
    note: str = "",
) -> tuple[ToldOtherwise, bool]:
    """Keep that a part of the unit is so, and say whether it is new: the same `client_id` again changes nothing.

    Raises:
        ToldMeanwhile: somebody ticked in the run, or told something of the unit, after `seen_version` and `seen_said`.
        TickRefused: this cannot be told of this unit, or the id was used for something else.
    """
    others = hold_job(run)
    stored = ToldOtherwise.objects.filter(client_id=client_id).first()
    if stored is not None:
        if (stored.job, stored.part, stored.value, stored.takes_back_id) != (run.job, part, value, None):
            raise TickRefused("This page sent something else already. Load it again, then say it.")
        return stored, False
    facts = UnitState.as_it_came(run.facts)
    if value not in conditions_for([run, *others], facts).get(part, ()):
        raise TickRefused("That cannot be said here. Choose one of the conditions that are shown.")
    if len(note.strip()) > LONGEST_NOTE:
        raise TickRefused(f"That is too long for a note ({LONGEST_NOTE} characters at most).")
    _claim(run, seen_version, seen_said)
    return _add(run, others, part, value, by, client_id, note=note.strip()), True


@transaction.atomic
def take_told_back(
    *, run: Run, told: ToldOtherwise, by: AbstractBaseUser | None, client_id: uuid.UUID
) -> tuple[ToldOtherwise, bool]:
    """It was said by mistake: it stays on record, and until a step says so nobody knows how the part is.

    Taken back before, by whomever, it changes nothing.
    """
    others = hold_job(run)
    stored = ToldOtherwise.objects.filter(takes_back=told).first()
    if stored is not None:
        return stored, False
    Run.objects.filter(pk=run.pk).update(said=F("said") + 1, ended_at=None)
    return _add(run, others, told.part, UNKNOWN, by, client_id, takes_back=told), True


def _claim(run: Run, seen_version: int, seen_said: int) -> None:
    """Of two who tell at once exactly one finds what it saw. Raises ToldMeanwhile."""
    seen = Run.objects.filter(pk=run.pk, version=seen_version, said=seen_said)
    if not seen.update(said=F("said") + 1, ended_at=None):
        told = [told_in_words(one) for one in told_since(run, seen_said)]
        ticks = Tick.objects.filter(run=run).select_related("step", "by").order_by("pk")[max(seen_version - 1, 0) :]
        told += [
            f"“{tick.step.title}”: {tick.get_outcome_display().lower()}, {_when(tick.ticked_at, tick.by)}"
            for tick in ticks
        ]
        raise ToldMeanwhile(f"Not kept, for this changed meanwhile: {'; '.join(told)}. Look at it, then say it again.")


def _add(
    run: Run, others: Sequence[Run], part: str, value: str, by: AbstractBaseUser | None, client_id: uuid.UUID,
    *, note: str = "", takes_back: ToldOtherwise | None = None,
) -> ToldOtherwise:  # fmt: skip
    Run.objects.filter(pk__in=[other.pk for other in others]).update(said=F("said") + 1, ended_at=None)
    last = Tick.objects.filter(run__job=run.job).aggregate(last=Max("pk"))["last"] or 0
    made = ToldOtherwise.objects.create(
        run=run, job=run.job, part=part, value=value, note=note, after_tick=last, takes_back=takes_back,
        client_id=client_id, by_id=by.pk if by else None,
    )  # fmt: skip
    run.said += 1
    return made


def told_since(run: Run, seen_said: int) -> list[ToldOtherwise]:
    """What was told of the unit after the first `seen_said`, oldest first."""
    return list(ToldOtherwise.objects.filter(job=run.job).select_related("by").order_by("pk")[max(seen_said, 0) :])


def told_in_words(told: ToldOtherwise) -> str:
    """Such as “The wheel is in, said at 14:02 by Jo”."""
    return f"{condition_in_words(told)}, {_when(told.said_at, told.by)}"


def condition_in_words(told: ToldOtherwise) -> str:
    """What was said, as a clause that begins large."""
    words = told_words(told.part, told.value)
    said = f"taken back, so that {words}" if told.takes_back_id else words
    return said[:1].upper() + said[1:]


def told_words(part: str, value: str) -> str:
    """A condition as a clause; what is said of one air chamber is said of both."""
    if part not in PARTS:
        return f"{part}: {value}"
    if PARTS[part].chamber and value in _OF_BOTH_CHAMBERS:
        return _OF_BOTH_CHAMBERS[value]
    return PARTS[part].in_words(value)


def _when(at: object, by: object) -> str:
    who = f" by {by}" if by else ""
    return f"said at {timezone.localtime(at):%H:%M}{who}"  # type: ignore[arg-type]


def bears_on(told: ToldOtherwise, step: Step) -> bool:
    """Whether an answer to the step rests on the part that was told of."""
    return bool(set(Told(told.part, told.value).opens) & rests_on(step))


def refuse_by_told(run: Run, step: Step, seen_said: int | None) -> None:
    """Raise where something was told that the sender has not seen and that an answer to this step rests on."""
    if seen_said is None or run.said <= seen_said:
        return
    everything = not can_tell(steps_of(run.checklist))
    news = [one for one in told_since(run, seen_said) if everything or bears_on(one, step)]
    if news:
        said = "; ".join(told_in_words(one) for one in news)
        raise ToldMeanwhile(f"Meanwhile it was said: {said}. Look whether your answer still holds, then press again.")
