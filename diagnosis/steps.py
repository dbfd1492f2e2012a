"""The steps of a checklist version. A version is never edited, so its steps are read once by each worker."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from functools import lru_cache

from django.utils import timezone

from diagnosis.models import Checklist, Step

# A younger version may still be in the transaction that makes it.
_LISTED = ("key", "title", "summary", "suits", "priors", "made_at", "complaint__retired_at", "complaint__is_routine")
FINAL_AFTER = dt.timedelta(minutes=1)


def steps_of(checklist: Checklist) -> tuple[Step, ...]:
    """The steps in handbook order. They are shared between requests: read them, never change them."""
    if timezone.now() - checklist.made_at < FINAL_AFTER:
        return _read(checklist.pk)
    return _remembered(checklist.pk, checklist.made_at)


def current_checklists() -> list[Checklist]:
    """The version of each checklist that is in use with its complaint, retired or not, in the complaints' order."""
    current = Checklist.objects.filter(is_current=True).select_related("complaint").only(*_LISTED)
    return list(current.order_by("complaint__position", "title"))


def steps_by_checklist(checklists: Iterable[Checklist]) -> dict[int, tuple[Step, ...]]:
    """The steps of several versions by the version's key; those not remembered yet are read in one query."""
    listed = {checklist.pk: checklist for checklist in checklists}
    now = timezone.now()
    young = [pk for pk, checklist in listed.items() if now - checklist.made_at < FINAL_AFTER]
    found: dict[int, list[Step]] = {pk: [] for pk in young}
    for step in Step.objects.filter(checklist__in=young).order_by("position") if young else ():
        found[step.checklist_id].append(step)
    remembered = {pk: steps_of(checklist) for pk, checklist in listed.items() if pk not in found}
    return {pk: tuple(steps) for pk, steps in found.items()} | remembered


def put_steps_on(rows: Iterable[object], steps: Iterable[Step]) -> None:
    """Give rows that point at a step (ticks, readings, timers) the step itself, without asking the database."""
    by_pk = {step.pk: step for step in steps}
    for row in rows:
        row.step = by_pk[row.step_id]  # type: ignore[attr-defined]


@lru_cache(maxsize=64)
def _remembered(checklist_pk: int, made_at: dt.datetime) -> tuple[Step, ...]:
    # The time is part of the key: another database, as in tests, may have given the same number to another version.
    return _read(checklist_pk)


def _read(checklist_pk: int) -> tuple[Step, ...]:
    return tuple(Step.objects.filter(checklist_id=checklist_pk).order_by("position"))
