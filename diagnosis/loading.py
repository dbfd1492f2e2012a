"""Checklist files into the database, as versions: what changed becomes the next version, what was stays as it was."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction
from django.db.models import Max

from diagnosis.layout import ChecklistPlan, load_folder, step_data
from diagnosis.models import Cause, Checklist, Complaint, Step

SHIPPED = Path(settings.BASE_DIR) / "fixtures" / "checklists"

_HEAD_FIELDS = ("title", "summary", "suits", "priors", "chances_source")


@dataclass(frozen=True)
class Loaded:
    """What became of one checklist: its version now, and whether this load made it."""

    key: str
    number: int
    is_new: bool


def load_shipped(folder: Path = SHIPPED, *, by: AbstractBaseUser | None = None) -> list[Loaded]:
    """Load every checklist of a folder; unchanged ones are left alone.

    Raises diagnosis.layout.LayoutError, with nothing loaded, if a file does not fit the layout.
    """
    plans = load_folder(folder).checklists
    with transaction.atomic():
        return [load_plan(plan=plan, position=position, by=by) for position, plan in enumerate(plans)]


@transaction.atomic
def load_plan(*, plan: ChecklistPlan, position: int = 0, by: AbstractBaseUser | None = None) -> Loaded:
    """Load one checklist. Complaint and causes are put right in place; steps get a new version if anything changed."""
    complaint = _put_complaint(plan, position)
    _put_causes(plan)
    head = {
        "title": plan.title,
        "summary": plan.summary,
        "suits": list(plan.complaint.suits),
        "priors": {cause.key: cause.prior for cause in plan.causes},
        "chances_source": plan.chances_source,
    }
    steps = [step_data(step) for step in plan.steps]
    current = Checklist.objects.filter(key=plan.key, is_current=True).first()
    if current is not None and current.complaint_id == complaint.pk and _says_the_same(current, head, steps):
        return Loaded(plan.key, current.number, is_new=False)
    return Loaded(plan.key, _make_version(plan.key, complaint, head, steps, by).number, is_new=True)


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


def _put_causes(plan: ChecklistPlan) -> None:
    for cause in plan.causes:
        Cause.objects.update_or_create(
            key=cause.key, defaults={"title": cause.title, "for_customer": cause.for_customer}
        )


def _make_version(
    key: str, complaint: Complaint, head: dict[str, Any], steps: Sequence[dict[str, Any]], by: AbstractBaseUser | None
) -> Checklist:
    versions = Checklist.objects.filter(key=key)
    last = versions.aggregate(last=Max("number"))["last"] or 0
    versions.filter(is_current=True).update(is_current=False)
    checklist = Checklist(complaint=complaint, key=key, number=last + 1, made_by_id=by.pk if by else None, **head)
    checklist.full_clean(exclude=["complaint", "made_by", "priors"])
    checklist.save()
    Step.objects.bulk_create(
        Step(checklist=checklist, position=position, **step) for position, step in enumerate(steps)
    )
    return checklist


def _says_the_same(checklist: Checklist, head: dict[str, Any], steps: Sequence[dict[str, Any]]) -> bool:
    stored_head = {name: getattr(checklist, name) for name in _HEAD_FIELDS}
    names = [field.name for field in Step._meta.fields if field.name not in ("id", "checklist", "position")]
    stored_steps = [{name: getattr(step, name) for name in names} for step in checklist.steps.order_by("position")]
    return _canonical([stored_head, stored_steps]) == _canonical([head, list(steps)])


def _canonical(data: Any) -> str:
    """As the database's JSON gives it back: tuples as lists, keys as text, in one order."""
    return json.dumps(data, sort_keys=True, default=asdict)
