"""Written out on one page, a checklist leaves nothing out that it says anywhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any

import pytest

from diagnosis.in_full import InFull, in_full
from diagnosis.layout_plans import ChecklistPlan, StepPlan
from diagnosis.layout_writing import step_data
from tests.shipped import shipped_folder

PLANS = [pytest.param(plan, id=plan.key) for plan in shipped_folder().checklists]
# Keys that the page puts into words: the words are held by the tests of those who have them.
BY_KEY = {"key", "kind", "level", "cause", "next", "role", "escalate", "finding", "quantity", "measures", "wanted",
          "most", "frees_port", "moves", "closed_by", "skill", "unit"}  # fmt: skip


def texts_of(value: object, name: str = "") -> Iterator[str]:
    """Every sentence in a step's data: what stands in a field that is not a key of something else."""
    if isinstance(value, str):
        if value and name not in BY_KEY:
            yield value
    elif isinstance(value, Mapping):
        for key, one in value.items():
            if key not in {"only_if", "when", "requires", "leaves", "ends_search"}:
                yield from texts_of(one, key)
    elif isinstance(value, list) and name not in {
        *("needs", "opens", "proves", "shows", "bolts", "services", "renews", "repair", "replaces"),
    }:
        for one in value:
            yield from texts_of(one, name)


def said_by(page: InFull) -> str:
    said: list[str] = []
    for step in page.steps:
        said += [step.plan.title, step.on, *(text for pair in (*step.do, *step.facts) for text in pair)]
        said += [text for one in step.cautions for text in (one.word, one.title, one.text, one.on)]
        said += [*step.readings, *(text for one in step.answers for text in (one.words, *one.lines))]
    return "\n".join(said)


@pytest.mark.parametrize("plan", PLANS)
def test_every_sentence_of_every_step_is_there(plan: ChecklistPlan) -> None:
    page = in_full(plan)
    said = said_by(page)
    missing = [text for step in plan.steps for text in texts_of(step_data(step)) if text not in said]
    assert missing == []
    assert [step.plan for step in page.steps] == list(plan.steps)


def test_a_sentence_in_any_field_is_looked_for() -> None:
    """Held against itself: a field of a step that the page forgot would be noticed."""
    step = next(step for plan in shipped_folder().checklists for step in plan.steps if step.timer and step.readings)
    seen = set(texts_of(step_data(step)))
    assert {step.title, step.for_customer, step.timer.label if step.timer else "", step.readings[0].label} <= seen
    assert all(text in seen for text in (answer.says for answer in step.answers.values()))


@pytest.mark.parametrize("plan", PLANS)
def test_what_it_asks_opens_and_leads_to_is_in_words(plan: ChecklistPlan) -> None:
    titles = {step.key: step.title for step in plan.steps}
    for step in in_full(plan).steps:
        facts = dict(step.facts)
        assert all(titles[key] in facts["After"] for key in step.plan.needs)
        assert ("The unit must be so" in facts) == bool(step.plan.requires)
        assert ("Opens" in facts) == bool(step.plan.opens)
        assert ("Proves" in facts) == bool(step.plan.proves)
        assert ("Finds" in facts) == bool(step.plan.ends_search)
        for answer, plan_of_it in zip(step.answers, step.plan.answers.values(), strict=False):
            assert not plan_of_it.next or f"“{titles[plan_of_it.next]}”" in " ".join(answer.lines)


def test_no_field_of_a_step_is_new_to_the_page() -> None:
    """A field that a step gains has to be looked at here: whoever signs would not have read it."""
    known: dict[str, Any] = {one.name: None for one in fields(StepPlan)}
    assert set(known) == {
        *("key", "kind", "title", "do", "minutes", "skill", "for_customer", "replaces", "look_for", "counts_as_found"),
        *("tools", "consumables", "cautions", "needs", "safety", "only_if", "shows", "readings", "timer", "bolts"),
        *("ends_search", "requires", "opens", "proves", "closed_by", "services", "renews", "frees_port"),
        *("spring_answer", "moves", "answers", "shared", "on_finding"),
    }


def test_its_minutes_are_summed_with_its_waits_apart() -> None:
    plan = shipped_folder().checklist("routine-lowers-service")
    page = in_full(plan)
    assert page.minutes == sum(step.minutes for step in plan.steps)
    assert page.waits == sum(step.timer.minutes for step in plan.steps if step.timer)
