"""What is different between two versions, in words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from diagnosis.comparing import compare
from diagnosis.layout import ChecklistPlan, StepPlan, load_folder

PLAN = load_folder(Path(__file__).parents[2] / "fixtures" / "checklists").checklist("loses-air")


def with_step(place: int, **changes: object) -> ChecklistPlan:
    steps = list(PLAN.steps)
    steps[place] = replace(steps[place], **changes)  # type: ignore[arg-type]
    return replace(PLAN, steps=tuple(steps))


def details(after: ChecklistPlan) -> list[str]:
    (step,) = compare(PLAN, after).steps
    return list(step.details)


def test_nothing_is_different() -> None:
    assert not compare(PLAN, PLAN)
    assert not compare(PLAN, replace(PLAN, causes=PLAN.causes[::-1]))


def test_a_value_is_told_before_and_after() -> None:
    minutes = PLAN.steps[0].minutes
    assert details(with_step(0, minutes=minutes + 1)) == [f"Minutes: “{minutes:g}” is now “{minutes + 1:g}”."]


def test_a_line_that_is_reworded_added_or_gone() -> None:
    lines = PLAN.steps[0].do
    reworded = replace(lines[0], text="Another way.")
    assert details(with_step(0, do=(reworded, *lines[1:]))) == [f"Do: “{lines[0].text}” is now “Another way.”."]
    assert details(with_step(0, do=(*lines, reworded))) == ["Do, added: “Another way.”."]
    assert details(with_step(0, do=lines[:-1])) == [f"Do, taken out: “{lines[-1].text}”."]


def test_a_condition_reads_as_on_the_tablet() -> None:
    (said,) = details(with_step(0, only_if={"foot_fastener": ("bolt", "nut")}))
    assert said == "On which units: “all” is now “If it has foot bolts or it has foot nuts”."


def test_a_step_that_moved_says_where_and_the_others_stay_silent() -> None:
    steps = list(PLAN.steps)
    steps.insert(5, steps.pop(2))
    (moved,) = compare(PLAN, replace(PLAN, steps=tuple(steps))).steps
    assert moved.title == PLAN.steps[2].title
    assert moved.details == (f"Moved: now after “{PLAN.steps[5].title}”.",)


def test_a_new_step_and_a_retired_one_that_it_replaces() -> None:
    gone: StepPlan = PLAN.steps[-1]
    new = replace(gone, key="brand-new", title="Brand new", replaces=(gone.key,))
    changes = compare(PLAN, replace(PLAN, steps=(*PLAN.steps[:-1], new))).steps
    assert [(step.title, step.fate) for step in changes] == [("Brand new", "new"), (gone.title, "retired")]
    assert changes[0].details[-1] == f"In place of “{gone.title}”."
    assert changes[1].details == ("Replaced by “Brand new”.",)


def test_causes_weights_and_chances() -> None:
    heavier = replace(PLAN.causes[0], prior=PLAN.causes[0].prior + 1)
    (said,) = compare(PLAN, replace(PLAN, causes=(heavier, *PLAN.causes[1:]))).head
    assert said.startswith(f"Cause “{heavier.title}”, weight: ")
    place = next(place for place, step in enumerate(PLAN.steps) if step.ends_search)
    cause = next(iter(PLAN.steps[place].ends_search))
    title = next(one.title for one in PLAN.causes if one.key == cause)
    (said,) = details(with_step(place, ends_search={**PLAN.steps[place].ends_search, cause: 0.01}))
    assert said.startswith(f"Chance to find “{title}”: ")
    assert said.endswith("is now “0.01”.")
