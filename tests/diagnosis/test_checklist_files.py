"""Checklists out to files and in again: nothing changes on the way, and nothing is written before it is confirmed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from diagnosis.checklist_files import (
    ChecklistFate,
    ChecklistPlanChanged,
    carry_out_checklist_import,
    export_text,
    export_zip,
    plan_checklist_import,
)
from diagnosis.drafts import DraftData, step_of
from diagnosis.layout import ChecklistPlan, load_checklist
from diagnosis.layout_writing import as_yaml
from diagnosis.loading import SHIPPED, load_plan, load_shipped
from diagnosis.models import Checklist, Complaint
from diagnosis.stored import data_of, in_use, plan_of, same_words
from tests.factories import UserFactory
from tests.generated_checklists import checklists
from tests.shipped import shipped_checklist, shipped_folder

pytestmark = pytest.mark.django_db


def in_use_plan(key: str) -> ChecklistPlan:
    return plan_of(Checklist.objects.get(key=key, is_current=True))


def test_every_shipped_checklist_comes_back_unchanged() -> None:
    load_shipped()
    content = export_zip(one.plan for one in in_use().values())
    plan = plan_checklist_import(content)
    assert {one.fate for one in plan.files} == {ChecklistFate.UNCHANGED}
    assert len(plan.files) == len(shipped_folder().checklists)
    assert content == export_zip(one.plan for one in in_use().values())


def test_the_shipped_folder_itself_can_be_imported() -> None:
    load_shipped()
    text = (SHIPPED / "sits-low.yaml").read_text(encoding="utf-8")
    assert [one.fate for one in plan_checklist_import(text.encode()).files] == [ChecklistFate.UNCHANGED]


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(checklists())
def test_any_checklist_comes_back_from_file_and_database(plan: ChecklistPlan) -> None:
    text = export_text(plan)
    read = load_checklist(f"{plan.key}.yaml", text, {})
    assert read == replace(plan, steps=tuple(replace(step, shared=False) for step in plan.steps))
    Checklist.objects.all().delete()
    Complaint.objects.all().delete()
    load_plan(plan=plan)
    assert same_words(in_use_plan(plan.key), plan)
    assert [one.fate for one in plan_checklist_import(export_text(in_use_plan(plan.key)).encode()).files] == [
        ChecklistFate.UNCHANGED
    ]


def test_a_change_is_said_in_words_and_written_when_confirmed() -> None:
    shipped_checklist("sits-low")
    owner = UserFactory(owner=True)
    content = export_text(in_use_plan("sits-low")).replace("minutes: 6.0", "minutes: 7.5", 1).encode()
    plan = plan_checklist_import(content)
    (one,) = plan.files
    assert (one.fate, one.number_in_use) == (ChecklistFate.CHANGED, 1)
    assert one.changes is not None
    assert "Minutes: “6” is now “7.5”." in [detail for step in one.changes.steps for detail in step.details]
    assert Checklist.objects.filter(key="sits-low").count() == 1
    carry_out_checklist_import(content=content, digest=plan.digest, by=owner)
    current = Checklist.objects.get(key="sits-low", is_current=True)
    assert (current.number, current.origin, current.made_by) == (2, Checklist.Origin.SHOP, owner)


def test_what_was_confirmed_must_still_be_what_happens() -> None:
    shipped_checklist("sits-low")
    content = export_text(in_use_plan("sits-low")).replace("minutes: 6.0", "minutes: 7.5", 1).encode()
    digest = plan_checklist_import(content).digest
    changed = replace(in_use_plan("sits-low"), summary="Otherwise.")
    load_plan(plan=changed)
    with pytest.raises(ChecklistPlanChanged) as refused:
        carry_out_checklist_import(content=content, digest=digest, by=UserFactory(owner=True))
    assert refused.value.plan.files[0].number_in_use == 2
    assert in_use_plan("sits-low").summary == "Otherwise."


def test_a_file_that_loses_a_safety_step_is_refused() -> None:
    shipped_checklist("sits-low")
    plan = in_use_plan("sits-low")
    gone = next(step for step in plan.steps if step.safety and not any(step.key in one.needs for one in plan.steps))
    steps = tuple(step for step in plan.steps if step.key != gone.key)
    steps = tuple(
        replace(step, answers={key: replace(one, next=None) for key, one in step.answers.items()}) for step in steps
    )
    (one,) = plan_checklist_import(export_text(replace(plan, steps=steps)).encode()).files
    assert one.fate is ChecklistFate.REFUSED
    assert [problem.step for problem in one.problems] == [gone.key]


def test_a_bad_file_names_its_step_and_stops_no_other() -> None:
    load_plan(plan=shipped_folder().checklist("sits-low"))
    load_plan(plan=shipped_folder().checklist("loses-air"))
    plans = [in_use_plan("sits-low"), replace(in_use_plan("loses-air"), summary="Otherwise.")]
    first = plans[0].steps[0]
    broken = replace(plans[0], steps=(replace(first, minutes=-1.0), *plans[0].steps[1:]))
    fates = {one.file: one for one in plan_checklist_import(export_zip([broken, plans[1]])).files}
    assert fates["loses-air.yaml"].fate is ChecklistFate.CHANGED
    (problem,) = fates["sits-low.yaml"].problems
    assert (problem.step, problem.field) == (first.key, "minutes")


def test_one_checklist_twice_and_a_cause_in_two_wordings_are_refused() -> None:
    plan = shipped_folder().checklist("sits-low")
    reworded = replace(plan.causes[0], title="Otherwise")
    other = replace(
        plan, key="other", complaint=replace(plan.complaint, key="other"), causes=(reworded, *plan.causes[1:])
    )
    fates = plan_checklist_import(export_zip([plan, other])).files
    assert [one.fate for one in fates] == [ChecklistFate.NEW, ChecklistFate.REFUSED]  # "other" comes first by its name
    assert "worded otherwise" in fates[1].problems[0].reason


def test_a_complaint_of_another_checklist_is_refused() -> None:
    shipped_checklist("sits-low")
    (one,) = plan_checklist_import(export_text(replace(in_use_plan("sits-low"), key="mine")).encode()).files
    assert "belongs to the checklist" in one.problems[0].reason


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("a: &a [x]\nb: &b [*a, *a]\nc: [*b, *b]\n", "anchors and aliases are not used here (line 1)"),
        ("complaint: !!python/object/apply:os.system [ls]\n", "tags are not used here (line 1)"),
        ("complaint: !ours x\n", "tags are not used here (line 1)"),
        ("a: " + "[" * 100_000 + "\n", "nest"),
        ("a: " + "9" * 10_000 + "\n", "cannot be read as YAML"),
        ("a: 2001-99-99\n", "cannot be read as YAML"),
        ("a: 1\n---\nb: 2\n", "document"),
        ("a: \x00\n", ""),
    ],
)
def test_hostile_yaml_is_refused(text: str, reason: str) -> None:
    (one,) = plan_checklist_import(text.encode()).files
    assert one.fate is ChecklistFate.REFUSED
    assert reason in one.problems[0].reason


def refused_with(data: DraftData) -> list[str]:
    (file,) = plan_checklist_import(as_yaml(data).encode()).files
    assert (file.fate is ChecklistFate.REFUSED) == bool(file.problems)
    return [f"{one.step}, {one.field}: {one.reason}" for one in file.problems]


@pytest.mark.parametrize(
    ("step", "fields", "refused"),
    [
        ("foot-fasteners-off", {"requires": {"positive_air": ["empty"]}}, "the negative air chamber"),
        ("lowers-off", {"requires": {"positive_air": ["empty", "charged"], "negative_air": ["empty"],
                                     "foot_fasteners": ["removed"]}}, "the positive air chamber"),
        ("clean-outside", {"opens": ["top_cap"]}, "the positive air chamber and the negative air chamber"),
        ("clean-outside", {"opens": ["top_cap"], "only_if": {"spring_kind": ["air", "coil"]}},
         "the positive air chamber and the negative air chamber"),
    ],
)  # fmt: skip
def test_a_file_that_opens_what_air_presses_on_with_the_air_in_is_refused(
    step: str, fields: dict[str, Any], refused: str
) -> None:
    data = data_of(shipped_folder().checklist("no-rebound-control"))
    assert refused_with(data) == []
    step_of(data, step).update(fields)
    (said,) = refused_with(data)
    assert said.startswith(f"{step}, requires: opens the ")
    assert said.endswith(f", which air presses on, without requiring that {refused} is empty")


def test_a_file_that_asks_for_the_air_out_or_is_for_coil_springs_may_open_it() -> None:
    data = data_of(shipped_folder().checklist("no-rebound-control"))
    step_of(data, "clean-outside").update(opens=["foot_fasteners"], only_if={"spring_kind": ["coil"]})
    assert refused_with(data) == []
    step_of(data, "clean-outside").update(only_if={}, requires={"positive_air": ["empty"], "negative_air": ["empty"]})
    assert refused_with(data) == []
