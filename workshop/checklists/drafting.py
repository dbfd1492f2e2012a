"""Writing drafts, putting them in use, and retiring complaints. One transaction each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify

from diagnosis.checking import broken_in_words, broken_rules
from diagnosis.drafts import DraftData, new_draft, plan_of_draft, problems_of
from diagnosis.layout import LayoutError
from diagnosis.loading import Loaded, load_plan
from diagnosis.models import Checklist, ChecklistDraft, Complaint
from diagnosis.shared_changes import changed_steps
from diagnosis.stored import data_of, in_use, plan_of, same_words
from diagnosis.unit_invariants import DANGERS
from workshop.checklists.sharing import carry_into_drafts, marks_of, shared_with
from workshop.staff.models import User
from workshop.web.versions import take_version


class NotReady(ValueError):
    """The draft cannot be put in use; `problems` says why."""

    def __init__(self, problems: Sequence[LayoutError]) -> None:
        super().__init__("The draft cannot be put in use yet.")
        self.problems = tuple(problems)


class OtherVersionInUse(Exception):
    """The version in use is not the one that the draft was compared with."""


@transaction.atomic
def start_draft(*, checklist: Checklist, by: User) -> ChecklistDraft:
    """The draft of a checklist, begun from this version if there is none yet."""
    draft, _ = ChecklistDraft.objects.get_or_create(
        key=checklist.key,
        defaults={"data": data_of(plan_of(checklist)), "based_on": checklist, "started_by": by, "changed_by": by},
    )
    return draft


@transaction.atomic
def start_new(
    *, title: str, suits: Sequence[str], symptoms: Sequence[str], is_routine: bool, by: User
) -> ChecklistDraft:
    """The draft of a checklist for a complaint that is not there yet."""
    taken = {
        *Complaint.objects.values_list("key", flat=True),
        *Checklist.objects.values_list("key", flat=True),
        *ChecklistDraft.objects.values_list("key", flat=True),
    }
    key = free_key(title, taken)
    data = new_draft(key=key, title=title, suits=suits, symptoms=symptoms, is_routine=is_routine)
    draft = ChecklistDraft(key=key, data=data, started_by=by, changed_by=by)
    draft.full_clean(exclude=["data"])
    draft.save()
    draft.written_by.add(by)
    return draft


def free_key(title: str, taken: set[str]) -> str:
    """A key made from words, with a number behind it where it is taken."""
    base = slugify(title)[:50].strip("-_") or "new"
    number, key = 1, base
    while key in taken:
        number += 1
        key = f"{base}-{number}"
    return key


@transaction.atomic
def save_draft(*, draft: ChecklistDraft, data: DraftData, by: User, seen_version: int) -> ChecklistDraft:
    """Keep changed data. Raises StaleVersion if someone else changed the draft meanwhile."""
    take_version(draft, seen_version)
    draft.data, draft.changed_by = data, by
    draft.full_clean(exclude=["data", "based_on", "started_by", "changed_by"])
    draft.save()
    draft.written_by.add(by)
    return draft


@transaction.atomic
def put_in_use(
    *, draft: ChecklistDraft, by: User, seen_version: int, seen_number: int, seen_others: str = ""
) -> list[Loaded]:
    """Make the draft the next version; the draft is gone then. `seen_number` is the version it was compared with.

    What it changes of steps that other lists have too is carried into them, each as its next version, and into their
    drafts. `seen_others` are those and their versions as they were shown (`sharing.marks_of`). Gives all that were
    made, this first.

    Raises:
        StaleVersion: someone else changed the draft meanwhile.
        OtherVersionInUse: another version was put in use meanwhile, of this list or of one that shares steps.
        NotReady: with every reason.
    """
    take_version(draft, seen_version)
    known = in_use([draft.key]).get(draft.key)
    if (known.checklist.number if known else 0) != seen_number:
        raise OtherVersionInUse
    before = known.plan if known else None
    problems = problems_of(draft.data, before)
    if problems:
        raise NotReady(problems)
    plan = plan_of_draft(draft.data)
    if known and same_words(known.plan, plan):
        raise NotReady([LayoutError(draft.key, "", "Nothing is different from the version in use.")])
    dangers = [one for one in broken_rules(plan) if one.rule in DANGERS]
    if dangers:
        titles = {step.key: step.title for step in plan.steps}
        raise NotReady([LayoutError(draft.key, one.step, broken_in_words(one, titles)) for one in dangers])
    others = shared_with(before, plan)
    if marks_of(others) != seen_others:
        raise OtherVersionInUse
    if refused := [LayoutError(one.in_use.plan.key, "", said) for one in others for said in one.problems]:
        raise NotReady(refused)
    _claim([one.checklist for one in (known, *(other.in_use for other in others)) if one])
    authors = list(User.objects.filter(pk__in=draft.written_by.values("pk")))
    # The others first: they name causes in the words that stand now, and the draft may word them anew.
    made = [
        load_plan(plan=one.carried.plan, by=by, origin=Checklist.Origin.SHOP, written_by=authors)
        for one in others
        if one.carried.changes
    ]
    own = load_plan(plan=plan, position=_last_position() + 1, by=by, origin=Checklist.Origin.SHOP, written_by=authors)
    if before is not None:
        carry_into_drafts(changed_steps(before, plan), but=draft.key, by=by, written_by=authors)
    draft.delete()
    return [own, *made]


def _claim(versions: Iterable[Checklist]) -> None:
    """Hold the versions that are replaced until this is done. Raises OtherVersionInUse where one is in use no more."""
    for version in sorted(versions, key=lambda one: one.pk):
        if not Checklist.objects.filter(pk=version.pk, is_current=True).update(is_current=True):
            raise OtherVersionInUse


@transaction.atomic
def drop_draft(*, draft: ChecklistDraft, seen_version: int) -> None:
    """Throw the draft away. Raises StaleVersion if someone else changed it meanwhile."""
    take_version(draft, seen_version)
    draft.delete()


@transaction.atomic
def retire_complaint(*, complaint: Complaint, by: User) -> None:
    """No longer offer it at the counter. Tickets that have it keep it, with their checklists."""
    Complaint.objects.filter(pk=complaint.pk, retired_at=None).update(retired_at=timezone.now(), retired_by=by)


@transaction.atomic
def offer_complaint_again(*, complaint: Complaint) -> None:
    Complaint.objects.filter(pk=complaint.pk).update(retired_at=None, retired_by=None)


def _last_position() -> int:
    return Complaint.objects.order_by("-position").values_list("position", flat=True).first() or 0
