"""The other checklists that have a step of a draft: which they are, and what the draft's change makes of each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F

from diagnosis.checking import broken_in_words, broken_rules
from diagnosis.drafts import plan_of_draft
from diagnosis.layout import ChecklistPlan, LayoutError, StepPlan
from diagnosis.layout_links import link_problems
from diagnosis.layout_safeguards import safeguard_problems
from diagnosis.models import ChecklistDraft, Step
from diagnosis.shared_changes import CarriedOver, change_carried_over, changed_steps, only_words
from diagnosis.stored import InUse, data_of, in_use
from diagnosis.unit_invariants import DANGERS
from workshop.staff.models import User

Changed = Mapping[str, tuple[StepPlan, StepPlan]]


@dataclass(frozen=True)
class SharedIn:
    """Another list in use that has a step which the draft changes, and what speaks against carrying it over."""

    in_use: InUse
    carried: CarriedOver
    problems: tuple[str, ...]

    @property
    def title(self) -> str:
        return self.in_use.plan.title

    @property
    def mark(self) -> str:
        """The version that was looked at."""
        return f"{self.in_use.plan.key}:{self.in_use.checklist.number}"


def shared_with(before: ChecklistPlan | None, after: ChecklistPlan) -> list[SharedIn]:
    """What putting `after` in the place of `before` would change in the other lists in use, by their titles."""
    changed = changed_steps(before, after) if before else {}
    if not changed:
        return []
    others = in_use(also_in(changed, but=after.key))
    found = [_shared_in(one, change_carried_over(changed, one.plan)) for one in others.values()]
    return sorted((one for one in found if one.carried.is_touched), key=lambda one: one.title)


def also_in(steps: Iterable[str], *, but: str) -> set[str]:
    """The keys of the lists in use that have one of these steps; one query."""
    having = Step.objects.filter(key__in=list(steps), checklist__is_current=True).exclude(checklist__key=but)
    return set(having.values_list("checklist__key", flat=True))


def lists_with(*, but: str) -> dict[str, list[str]]:
    """For each step of the lists in use, by its key, the titles of those that have it; one query."""
    having = Step.objects.filter(checklist__is_current=True).exclude(checklist__key=but)
    found: dict[str, list[str]] = {}
    for key, title in having.order_by("checklist__title").values_list("key", "checklist__title"):
        found.setdefault(key, []).append(title)
    return found


def marks_of(others: Sequence[SharedIn]) -> str:
    """What was looked at, in a word that goes with the form and comes back."""
    return " ".join(sorted(one.mark for one in others))


def carry_into_drafts(changed: Changed, *, but: str, by: User, written_by: Sequence[User]) -> list[str]:
    """The same change in the drafts that are open, so that none of them undoes it; gives their titles.

    Whoever has such a draft on the screen is told when they save. Where a draft says otherwise, it stays as it is.
    """
    touched = []
    for draft in ChecklistDraft.objects.exclude(key=but):
        try:
            carried = change_carried_over(changed, plan_of_draft(draft.data))
        except LayoutError:
            continue
        if carried.changes:
            draft.data, draft.changed_by = data_of(carried.plan), by
            draft.save(update_fields=["data", "changed_by", "changed_at"])
            ChecklistDraft.objects.filter(pk=draft.pk).update(version=F("version") + 1)
            draft.written_by.add(*written_by)
            touched.append(carried.plan.title)
    return touched


def _shared_in(one: InUse, carried: CarriedOver) -> SharedIn:
    return SharedIn(one, carried, tuple(_problems(one.plan, carried.plan)) if carried.changes else ())


def _problems(before: ChecklistPlan, after: ChecklistPlan) -> list[str]:
    """What keeps the list from being changed so; gone through anew only where more than words is different."""
    titles = {step.key: step.title for step in after.steps}
    file = f"{after.key}.yaml"
    said = [
        f"“{titles.get(one.step, one.step)}”: {one.beside}" if one.step else one.beside
        for one in (*link_problems(file, after), *safeguard_problems(file, before, after))
    ]
    if said or only_words(before, after):
        return said
    return [broken_in_words(one, titles) for one in broken_rules(after) if one.rule in DANGERS]
