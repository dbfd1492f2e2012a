"""Checklist files into versions: unchanged ones are left alone, changed ones become the next version."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from diagnosis.layout import LayoutError
from diagnosis.loading import SHIPPED, load_plan, load_shipped
from diagnosis.models import Cause, Checklist, Complaint, Step
from tests.shipped import shipped_folder

pytestmark = pytest.mark.django_db


def straight(text: str) -> str:
    return text.replace("’", "'")


def test_the_shipped_checklists_are_loaded_with_all_their_steps() -> None:
    loaded = load_shipped()
    plans = {plan.key: plan for plan in shipped_folder().checklists}
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


def test_another_apostrophe_alone_makes_no_version_that_somebody_would_have_to_read_through() -> None:
    for plan in shipped_folder().checklists:
        steps = tuple(dataclasses.replace(step, for_customer=straight(step.for_customer)) for step in plan.steps)
        load_plan(plan=dataclasses.replace(plan, steps=steps))
    assert any("'" in step.for_customer for step in Step.objects.all())
    assert not any(entry.is_new for entry in load_shipped())


def test_a_changed_step_makes_the_next_version_and_keeps_the_old_one() -> None:
    load_shipped()
    plan = shipped_folder().checklist("sits-low")
    first = dataclasses.replace(plan.steps[0], title="Clamp it and measure")
    changed = load_plan(plan=dataclasses.replace(plan, steps=(first, *plan.steps[1:])))
    assert (changed.number, changed.is_new) == (2, True)
    old, new = Checklist.objects.filter(key="sits-low").order_by("number")
    assert (old.is_current, new.is_current) == (False, True)
    assert old.steps.get(position=0).title == plan.steps[0].title
    assert new.steps.get(position=0).title == "Clamp it and measure"


def test_a_changed_prior_makes_the_next_version() -> None:
    load_shipped()
    plan = shipped_folder().checklist("sits-low")
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


def shops_own(key: str = "sits-low") -> Checklist:
    """The shop's own version of a shipped checklist, in use."""
    plan = shipped_folder().checklist(key)
    load_plan(plan=dataclasses.replace(plan, summary="The shop’s own words."), origin=Checklist.Origin.SHOP)
    return Checklist.objects.get(key=key, is_current=True)


def an_update(tmp_path: Path) -> Path:
    """The shipped folder with other minutes in one step of its own and another wording of a cause."""
    for path in SHIPPED.glob("*.yaml"):
        (tmp_path / path.name).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
    file = tmp_path / "sits-low.yaml"
    text = file.read_text(encoding="utf-8").replace("minutes: 6\n", "minutes: 9\n", 1)
    file.write_text(text.replace("title: Piston seal lets air past", "title: Seal lets air past"), encoding="utf-8")
    return tmp_path


def test_an_update_goes_into_use_where_the_shop_changed_nothing(tmp_path: Path) -> None:
    load_shipped()
    folder = an_update(tmp_path)
    with pytest.raises(LayoutError, match="worded otherwise"):
        load_shipped(folder)  # the cause is named by another checklist as well
    for path in folder.glob("*.yaml"):
        text = path.read_text(encoding="utf-8").replace("title: Piston seal lets air past", "title: Seal lets air past")
        path.write_text(text, encoding="utf-8")
    loaded = {entry.key: entry for entry in load_shipped(folder)}
    assert (loaded["sits-low"].number, loaded["sits-low"].in_use) == (2, True)
    assert Cause.objects.get(key="worn-piston-seal").title == "Seal lets air past"
    assert not any(entry.is_new for entry in load_shipped(folder))


def test_an_update_never_takes_the_place_of_the_shops_own_version(tmp_path: Path) -> None:
    load_shipped()
    own = shops_own()
    folder = an_update(tmp_path)
    for path in folder.glob("*.yaml"):
        text = path.read_text(encoding="utf-8").replace("title: Piston seal lets air past", "title: Seal lets air past")
        path.write_text(text, encoding="utf-8")
    loaded = {entry.key: entry for entry in load_shipped(folder)}
    assert (loaded["sits-low"].number, loaded["sits-low"].in_use) == (3, False)
    assert Checklist.objects.get(key="sits-low", is_current=True) == own
    assert Cause.objects.get(key="worn-piston-seal").title == "Piston seal lets air past"
    beside = Checklist.objects.get(key="sits-low", number=3)
    assert (beside.is_current, beside.origin) == (False, Checklist.Origin.SHIPPED)
    assert beside.steps.get(key="pressure-and-cycle").minutes == 9
    assert not any(entry.is_new for entry in load_shipped(folder))


def test_the_same_shipped_text_again_is_not_laid_beside_the_shops_own() -> None:
    load_shipped()
    shops_own()
    assert not any(entry.is_new for entry in load_shipped())
    assert Checklist.objects.filter(key="sits-low").count() == 2
