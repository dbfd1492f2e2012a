"""A draft is gone through before it is put in use: a danger is shown with the way there, and refused."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from diagnosis import checking, state_sets
from diagnosis.drafts import step_of
from diagnosis.models import Checklist, ChecklistDraft
from diagnosis.unit_invariants import CAUSE_OUT_OF_REACH, NO_WAY_BACK, TOO_MUCH
from diagnosis.unit_state import FILLED_OPEN, UNDER_PRESSURE
from workshop.checklists.drafting import NotReady, put_in_use, save_draft
from workshop.models import User

BUTTON = "Put in use</button>"


def url(name: str) -> str:
    return reverse(f"office:{name}", args=["sits-low"])


@pytest.fixture
def changed(draft: ChecklistDraft, owner: User) -> Callable[..., None]:
    """Changes fields of one step of the draft, as the step form would store them."""

    def change(key: str, **fields: Any) -> None:
        data = deepcopy(draft.data)
        step_of(data, key).update(fields)
        draft.refresh_from_db()
        save_draft(draft=draft, data=data, by=owner, seen_version=draft.version)

    return change


def test_the_shipped_list_with_another_title_can_be_put_in_use(
    office: Client, draft: ChecklistDraft, changed: Callable[..., None]
) -> None:
    changed("fill-in-stages", title="Fill it slowly")
    for name in ("draft", "draft_use"):
        assertNotContains(office.get(url(name)), "What can go wrong")
    assertRedirects(office.post(url("draft_use"), {"seen": 2, "number": 1}), url("checklist"))


def test_a_danger_is_shown_step_by_step_and_not_put_in_use(
    office: Client, draft: ChecklistDraft, changed: Callable[..., None], owner: User
) -> None:
    wanted = step_of(draft.data, "fill-in-stages")["requires"]
    changed("fill-in-stages", requires={part: words for part, words in wanted.items() if part != "lowers"})
    for name in ("draft", "draft_use"):
        page = office.get(url(name))
        assertContains(page, FILLED_OPEN)
        assertContains(page, "Dangerous: it is not put in use like this.")
        assertContains(page, "<li>“Lowers on without pinching the wipers”: left out</li>", html=True)
        assertContains(page, "<li>“Fill with air in stages”: done</li>", html=True)
    assertNotContains(office.get(url("draft_use")), BUTTON)
    refused = office.post(url("draft_use"), {"seen": 2, "number": 1})
    assert refused.status_code == 422
    assertContains(refused, FILLED_OPEN, status_code=422)
    assert Checklist.objects.get(key="sits-low").number == 1
    draft.refresh_from_db()
    with pytest.raises(NotReady) as caught:
        put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1)
    assert {problem.step for problem in caught.value.problems} == {"fill-in-stages"}


@pytest.mark.parametrize(
    ("step", "fields", "rule"),
    [
        ("foot-fasteners-off", {"requires": {}}, UNDER_PRESSURE),
        ("knob-on", {"answers": {"done": {"says": "On.", "leaves": {}}}}, NO_WAY_BACK),
    ],
)
def test_other_dangers_are_named_too(
    office: Client, changed: Callable[..., None], step: str, fields: dict[str, Any], rule: str
) -> None:
    changed(step, **fields)
    assertContains(office.get(url("draft_use")), rule)
    assert office.post(url("draft_use"), {"seen": 2, "number": 1}).status_code == 422


def test_what_is_no_danger_is_shown_and_may_be_put_in_use(
    office: Client, draft: ChecklistDraft, changed: Callable[..., None]
) -> None:
    """No chamber is level with an empty one, so nobody ever compares the travel: a pity, and nobody is hurt."""
    changed("compare-spring-travel", requires={"positive_air": ["level"], "negative_air": ["empty"]})
    page = office.get(url("draft_use"))
    assertContains(page, CAUSE_OUT_OF_REACH)
    assertContains(page, "this is so from the start")
    assertContains(page, BUTTON)
    assertRedirects(office.post(url("draft_use"), {"seen": 2, "number": 1}), url("checklist"))


def test_while_a_draft_has_problems_nothing_is_gone_through(office: Client, changed: Callable[..., None]) -> None:
    changed("fill-in-stages", requires={}, needs=["no-such-step"])
    page = office.get(url("draft"))
    assertContains(page, "Before it can be put in use")
    assertNotContains(page, "What can go wrong")


def test_what_cannot_be_gone_through_counts_as_dangerous(
    office: Client, changed: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(state_sets, "MOST_NODES", 50)
    checking._broken_rules.cache_clear()
    changed("fill-in-stages", title="Fill it slowly")
    assertContains(office.get(url("draft_use")), TOO_MUCH)
    assert office.post(url("draft_use"), {"seen": 2, "number": 1}).status_code == 422
    checking._broken_rules.cache_clear()
