"""Checklists into the database, as versions: what changed becomes the next version, what was stays as it was.

A shop that put a version of its own in use keeps it: a shipped text that differs is stored beside it, not in use, for
the owner to compare and take over. Where the shop changed nothing, a shipped update is put in use.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction
from django.db.models import F, Max

from diagnosis.layout import ChecklistPlan, load_folder, step_data
from diagnosis.models import Cause, Checklist, Complaint, Step
from diagnosis.stored import plan_of, same_but_for_apostrophes, same_words

SHIPPED = Path(settings.BASE_DIR) / "fixtures" / "checklists"


@dataclass(frozen=True)
class Loaded:
    """What became of one checklist: the number of its version, whether this load made it, and whether it is in use."""

    key: str
    number: int
    is_new: bool
    in_use: bool = True


def load_shipped(folder: Path = SHIPPED, *, by: AbstractBaseUser | None = None) -> list[Loaded]:
    """Load every checklist of a folder; unchanged ones, and those the shop made its own, are left alone.

    Raises diagnosis.layout.LayoutError, with nothing loaded, if a file does not fit the layout.
    """
    plans = load_folder(folder).checklists
    with transaction.atomic():
        return [_load_shipped(plan, position, by) for position, plan in enumerate(plans)]


@transaction.atomic
def load_plan(
    *,
    plan: ChecklistPlan,
    position: int = 0,
    by: AbstractBaseUser | None = None,
    origin: str = Checklist.Origin.SHIPPED,
    written_by: Iterable[AbstractBaseUser] = (),
) -> Loaded:
    """Put one checklist in use; it gets a new version if anything changed. `written_by` are those who changed it.

    Complaint and causes are put right in place, so their words change wherever they are named.
    """
    current = Checklist.objects.filter(key=plan.key, is_current=True).select_related("complaint").first()
    if current is not None and same_words(plan_of(current), plan):
        return Loaded(plan.key, current.number, is_new=False)
    complaint = _put_complaint(plan, position)
    authors = list(written_by)
    _put_causes(plan, written_by=authors)
    made = _make_version(plan, complaint, by, origin)
    made.written_by.set([author.pk for author in authors])
    return Loaded(plan.key, made.number, is_new=True)


def _load_shipped(plan: ChecklistPlan, position: int, by: AbstractBaseUser | None) -> Loaded:
    current = Checklist.objects.filter(key=plan.key, is_current=True).select_related("complaint").first()
    if current is not None and current.origin == Checklist.Origin.SHOP:
        return _lay_beside(plan, current, by)
    kept = _causes_the_shop_worded()
    if current is not None and same_but_for_apostrophes(_worded_as(plan, plan_of(current), kept), plan):
        return Loaded(plan.key, current.number, is_new=False)
    complaint = _put_complaint(plan, position)
    _put_causes(plan, keep=kept)
    return Loaded(plan.key, _make_version(plan, complaint, by, Checklist.Origin.SHIPPED).number, is_new=True)


def _lay_beside(plan: ChecklistPlan, own: Checklist, by: AbstractBaseUser | None) -> Loaded:
    """Keep the shop's own version in use, and the shipped text beside it; complaint and causes stay as they are."""
    beside = Checklist.objects.filter(key=plan.key, origin=Checklist.Origin.SHIPPED).select_related("complaint")
    last = beside.order_by("-number").first()
    if last is not None:
        stored = _worded_as(plan, plan_of(last), {cause.key for cause in plan.causes})
        if same_but_for_apostrophes(
            dataclasses.replace(stored, complaint=plan.complaint, is_routine=plan.is_routine), plan
        ):
            return Loaded(plan.key, last.number, is_new=False, in_use=False)
    _put_causes(plan, keep=set(Cause.objects.values_list("key", flat=True)))
    made = _make_version(plan, own.complaint, by, Checklist.Origin.SHIPPED, in_use=False)
    return Loaded(plan.key, made.number, is_new=True, in_use=False)


def _causes_the_shop_worded() -> set[str]:
    """Causes of the shop's own versions in use: their words are the shop's, wherever they are named."""
    own = Checklist.objects.filter(is_current=True, origin=Checklist.Origin.SHOP)
    return {key for priors in own.values_list("priors", flat=True) for key in priors}


def _worded_as(plan: ChecklistPlan, stored: ChecklistPlan, keep: Set[str]) -> ChecklistPlan:
    """The stored plan with those causes in the words of `plan`, so that only what is kept by version is compared."""
    words = {cause.key: cause for cause in plan.causes if cause.key in keep}
    causes = tuple(
        dataclasses.replace(words[cause.key], prior=cause.prior) if cause.key in words else cause
        for cause in stored.causes
    )
    return dataclasses.replace(stored, causes=causes)


def _put_complaint(plan: ChecklistPlan, position: int) -> Complaint:
    complaint = Complaint.objects.filter(key=plan.complaint.key).first()
    if complaint is None:
        complaint = Complaint(key=plan.complaint.key, position=position)
    complaint.title = plan.complaint.title
    complaint.suits = list(plan.complaint.suits)
    complaint.symptoms = list(plan.complaint.symptoms)
    complaint.is_routine = plan.is_routine
    complaint.full_clean()
    complaint.save()
    return complaint


def _put_causes(plan: ChecklistPlan, keep: Set[str] = frozenset(), written_by: Iterable[AbstractBaseUser] = ()) -> None:
    """Add or reword the plan's causes; those in `keep` stay as they are worded."""
    known = Cause.objects.in_bulk([cause.key for cause in plan.causes], field_name="key")
    reworded = []
    for cause in plan.causes:
        words = {"title": cause.title, "for_customer": cause.for_customer, "ends_life": list(cause.ends_life)}
        stored = known.get(cause.key)
        if stored is None:
            Cause.objects.create(key=cause.key, **words)
        elif cause.key not in keep and any(getattr(stored, name) != said for name, said in words.items()):
            Cause.objects.filter(pk=stored.pk).update(**words)
            reworded.append(cause.key)
    _note_reworded(reworded, list(written_by))


def _note_reworded(causes: Iterable[str], written_by: Sequence[AbstractBaseUser]) -> None:
    """The versions there are that name these causes say otherwise from here on, in the words of those who wrote it."""
    for cause in causes:
        versions = Checklist.objects.filter(priors__has_key=cause)
        versions.update(wording=F("wording") + 1)
        for version in versions if written_by else ():
            version.written_by.add(*(author.pk for author in written_by))


def _make_version(
    plan: ChecklistPlan, complaint: Complaint, by: AbstractBaseUser | None, origin: str, *, in_use: bool = True
) -> Checklist:
    versions = Checklist.objects.filter(key=plan.key)
    last = versions.aggregate(last=Max("number"))["last"] or 0
    if in_use:
        versions.filter(is_current=True).update(is_current=False)
    checklist = Checklist(
        complaint=complaint,
        key=plan.key,
        number=last + 1,
        title=plan.title,
        summary=plan.summary,
        suits=list(plan.complaint.suits),
        priors={cause.key: cause.prior for cause in plan.causes},
        chances_source=plan.chances_source,
        is_current=in_use,
        origin=origin,
        made_by_id=by.pk if by else None,
    )
    checklist.full_clean(exclude=["complaint", "made_by", "priors"])
    checklist.save()
    Step.objects.bulk_create(
        Step(checklist=checklist, position=position, **step_data(step)) for position, step in enumerate(plan.steps)
    )
    return checklist
