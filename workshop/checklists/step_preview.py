"""A step beside its form, as the bench would show it: as it is stored, or as it is typed and not saved yet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnosis.drafts import plan_of_draft, with_step
from diagnosis.layout import ChecklistPlan, LayoutError
from workshop.checklists.pages import DraftPage
from workshop.checklists.preview import Preview
from workshop.checklists.step_form import StepForm
from workshop.staff.models import Shop

SHOW = "show"
"""The name under which a form is sent to be shown and not saved."""


def preview_of_step(plan: ChecklistPlan, key: str, shop: Shop) -> dict[str, Any]:
    """A step of a plan as the bench has it on a unit nobody knows; with `why_not` where there is nothing to show."""
    shown = Preview(plan, None, shop, key).context()
    if not key or shown["state"] is None or shown["state"].key != key:
        return {"why_not": "Nothing to show yet." if not key else "This step is not on every unit."}
    return shown


def preview_of_typed(
    page: DraftPage, form: StepForm, cautions: Mapping[str, Mapping[str, Any]], shop: Shop
) -> dict[str, Any]:
    """What is typed as the bench would have it, or `why_not` where something of it does not fit yet."""
    if form.is_valid():
        made = form.raw()
        try:
            return preview_of_step(plan_of_draft(with_step(page.data, made, cautions)), made["key"], shop)
        except LayoutError as error:
            return {"why_not": f"Not shown yet: {error.beside}"}
    first = next(iter(form.errors.values()))
    return {"why_not": f"Not shown yet: {first[0]}"}
