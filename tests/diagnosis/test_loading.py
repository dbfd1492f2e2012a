"""Checklist files into versions: unchanged ones are left alone, changed ones become the next version."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from diagnosis.layout import LayoutError, load_folder
from diagnosis.loading import SHIPPED, load_plan, load_shipped
from diagnosis.models import Cause, Checklist, Complaint, Step

pytestmark = pytest.mark.django_db


def test_the_shipped_checklists_are_loaded_with_all_their_steps() -> None:
    loaded = load_shipped()
    plans = {plan.key: plan for plan in load_folder(SHIPPED).checklists}
    assert {entry.key for entry in loaded} == set(plans)
    assert all(entry.number == 1 and entry.is_new for entry in loaded)
    stored = Checklist.objects.get(key="sits-low", is_current=True)
    assert [step.key for step in stored.steps.order_by("position")] == [step.key for step in plans["sits-low"].steps]
    assert Complaint.objects.get(key="sits-low").symptoms == list(plans["sits-low"].complaint.symptoms)
    assert Cause.objects.filter(key="port-blocked").exists()


def test_loading_again_changes_nothing() -> None:
    load_shipped()
    before = list(Step.objects.order_by("pk").values_list("pk", flat=True))
    assert not any(entry.is_new for entry in load_shipped())
    assert list(Step.objects.order_by("pk").values_list("pk", flat=True)) == before


def test_a_changed_step_makes_the_next_version_and_keeps_the_old_one() -> None:
    load_shipped()
    plan = load_folder(SHIPPED).checklist("sits-low")
    first = dataclasses.replace(plan.steps[0], title="Clamp it and measure")
    changed = load_plan(plan=dataclasses.replace(plan, steps=(first, *plan.steps[1:])))
    assert (changed.number, changed.is_new) == (2, True)
    old, new = Checklist.objects.filter(key="sits-low").order_by("number")
    assert (old.is_current, new.is_current) == (False, True)
    assert old.steps.get(position=0).title == plan.steps[0].title
    assert new.steps.get(position=0).title == "Clamp it and measure"


def test_a_changed_prior_makes_the_next_version() -> None:
    load_shipped()
    plan = load_folder(SHIPPED).checklist("sits-low")
    heavier = dataclasses.replace(plan.causes[0], prior=plan.causes[0].prior + 1)
    changed = load_plan(plan=dataclasses.replace(plan, causes=(heavier, *plan.causes[1:])))
    assert changed.number == 2


def test_a_bad_folder_loads_nothing(tmp_path: Path) -> None:
    for path in SHIPPED.glob("*.yaml"):
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "sits-low.yaml").write_text("layout: 99\n", encoding="utf-8")
    with pytest.raises(LayoutError, match="layout"):
        load_shipped(tmp_path)
    assert not Checklist.objects.exists()
