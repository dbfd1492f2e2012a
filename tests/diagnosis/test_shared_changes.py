"""A step is changed once for all lists that have it: what is carried over, what is a list's own, what is kept."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from diagnosis.layout_plans import AnswerPlan, CautionPlan, ChecklistPlan, LinePlan, PartPlan, StepPlan
from diagnosis.shared_changes import change_carried_over, changed_steps, only_words
from tests.shipped import shipped_folder

SHARED = "record-arrival"
FROM, TO = shipped_folder().checklist("sits-low"), shipped_folder().checklist("loses-air")


def changed(plan: ChecklistPlan, key: str, **fields: Any) -> ChecklistPlan:
    return replace(plan, steps=tuple(replace(step, **fields) if step.key == key else step for step in plan.steps))


def over(after: ChecklistPlan, other: ChecklistPlan = TO) -> ChecklistPlan:
    return change_carried_over(changed_steps(FROM, after), other).plan


def test_nothing_changed_carries_nothing() -> None:
    assert changed_steps(FROM, FROM) == {}
    assert not change_carried_over({}, TO).is_touched


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("title", "Record how it came in, in writing"),
        ("do", (LinePlan("Hold it by its seat post."),)),
        ("look_for", ("Cracks.",)),
        ("minutes", 9.0),
        ("skill", "mechanic"),
        ("tools", ("torch",)),
        ("only_if", {"kind": ("fork",)}),
        ("for_customer", "We looked it over."),
        ("safety", False),
        ("requires", {"wheel": ("closed",)}),
        ("moves", "push"),
    ],
)
def test_what_all_lists_share_is_carried_over(field: str, value: Any) -> None:
    after = changed(FROM, SHARED, **{field: value})
    assert list(changed_steps(FROM, after)) == [SHARED]
    assert getattr(over(after).step(SHARED), field) == value
    assert [step for step in over(after).steps if step.key != SHARED] == [
        step for step in TO.steps if step.key != SHARED
    ]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("needs", ("record-clicks",)),
        ("ends_search", {"low-pressure": 0.5}),
        ("services", ("lowers",)),
        ("closed_by", "prove-rest"),
        ("replaces", ("old-step",)),
    ],
)
def test_what_is_a_lists_own_stays_there(field: str, value: Any) -> None:
    after = changed(FROM, SHARED, **{field: value})
    assert changed_steps(FROM, after) == {}


def with_answer(plan: ChecklistPlan, outcome: str, answer: AnswerPlan) -> ChecklistPlan:
    return changed(plan, SHARED, answers={**plan.step(SHARED).answers, outcome: answer})


def test_of_an_answer_the_words_go_over_and_where_it_leads_stays() -> None:
    done = FROM.step(SHARED).answers["done"]
    own = with_answer(TO, "done", replace(TO.step(SHARED).answers["done"], next="record-clicks"))
    after = with_answer(FROM, "done", replace(done, says="Noted.", parts=(PartPlan("wipers", 1),), next="prove-rest"))
    carried = over(after, own).step(SHARED).answers["done"]
    assert (carried.says, carried.parts, carried.next) == ("Noted.", (PartPlan("wipers", 1),), "record-clicks")


def test_a_list_that_says_otherwise_keeps_it_and_that_is_told() -> None:
    own = changed(TO, SHARED, title="Write down how it came in", tools=("camera",))
    after = changed(FROM, SHARED, title="Note how it came in", minutes=4.0)
    found = change_carried_over(changed_steps(FROM, after), own)
    step = found.plan.step(SHARED)
    assert (step.title, step.minutes, step.tools) == ("Write down how it came in", 4.0, ("camera",))
    assert [one.details for one in found.changes.steps] == [("Minutes: “2” is now “4”.",)]
    assert [one.details for one in found.left.steps] == [
        ("Title: “Write down how it came in” is now “Note how it came in”.",)
    ]


def test_an_answer_that_comes_or_goes_does_so_everywhere_but_without_another_lists_causes() -> None:
    comes = with_answer(FROM, "still_pulling", AnswerPlan(says="Stop.", next="prove-rest", cause="low-pressure"))
    assert over(comes).step(SHARED).answers["still_pulling"] == AnswerPlan(says="Stop.")
    less = {key: one for key, one in FROM.step(SHARED).answers.items() if key != "left_out"}
    assert "left_out" not in over(changed(FROM, SHARED, answers=less)).step(SHARED).answers
    own = with_answer(TO, "left_out", AnswerPlan(says="In our own words."))
    assert "left_out" in over(changed(FROM, SHARED, answers=less), own).step(SHARED).answers


def test_a_list_keeps_one_wording_for_each_caution() -> None:
    own_words = CautionPlan("thin-ice", "Thin ice", "As this list says it.")
    own = changed(TO, TO.steps[1].key, cautions=(own_words,))
    after = changed(FROM, SHARED, cautions=(CautionPlan("thin-ice", "Thin ice", "Otherwise."),))
    assert over(after, own).step(SHARED).cautions == (own_words,)
    assert over(after).step(SHARED).cautions[0].text == "Otherwise."


def test_a_step_of_another_kind_under_the_same_key_is_another_step() -> None:
    own = changed(TO, SHARED, kind="check")
    assert not change_carried_over(changed_steps(FROM, changed(FROM, SHARED, title="Otherwise")), own).is_touched


def test_a_list_without_the_step_is_not_touched() -> None:
    lacking = replace(TO, steps=tuple(step for step in TO.steps if step.key != SHARED))
    assert not change_carried_over(changed_steps(FROM, changed(FROM, SHARED, title="Otherwise")), lacking).is_touched


@pytest.mark.parametrize(
    ("fields", "is_words"),
    [
        ({"title": "Otherwise", "do": (LinePlan("Do."),), "minutes": 3.0, "cautions": ()}, True),
        ({"requires": {"wheel": ("closed",)}}, False),
        ({"opens": ("wheel",)}, False),
        ({"only_if": {"kind": ("fork",)}}, False),
        ({"moves": "ride"}, False),
        ({"safety": False}, False),
    ],
)
def test_only_words_are_different_or_more(fields: dict[str, Any], is_words: bool) -> None:
    assert only_words(FROM, changed(FROM, SHARED, **fields)) == is_words


def test_what_an_answer_leaves_is_more_than_words() -> None:
    done = FROM.step(SHARED).answers["done"]
    assert only_words(FROM, with_answer(FROM, "done", replace(done, says="Noted.")))
    assert not only_words(FROM, with_answer(FROM, "done", replace(done, leaves={"wheel": "out"})))


def test_every_shared_step_of_the_files_reads_the_same_in_every_list() -> None:
    """In the files a shared step stands once; what its lists override is what this module calls their own."""
    first: dict[str, StepPlan] = {}
    for plan in shipped_folder().checklists:
        for step in plan.steps:
            if step.shared:
                known = first.setdefault(step.key, step)
                assert [one for one in ("title", "do", "cautions", "minutes", "requires", "opens", "readings")
                        if getattr(step, one) != getattr(known, one)] == []  # fmt: skip
