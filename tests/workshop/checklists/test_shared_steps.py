"""A shared step is changed once: the editor says for which lists, and all of them get their next version together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from diagnosis.drafts import plan_of_draft, step_of, with_step
from diagnosis.loading import load_plan
from diagnosis.models import Cause, Checklist, ChecklistDraft
from diagnosis.runs import start_run
from diagnosis.steps import steps_of
from diagnosis.stored import plan_of
from tests.checklist_forms import as_sent
from tests.factories import UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.checklists.drafting import NotReady, OtherVersionInUse, put_in_use, save_draft, start_draft
from workshop.models import User
from workshop.signed.signing import sign
from workshop.signed.standing import Standing, read_through

SHARED, OWN = "record-arrival", "pressure-and-cycle"
NEW = "Write down how it came in"


def url(name: str, *args: str) -> str:
    return reverse(f"office:{name}", args=["sits-low", *args])


def now(key: str) -> Checklist:
    return Checklist.objects.get(key=key, is_current=True)


def retitled(draft: ChecklistDraft, by: User, step: str = SHARED, **changed: Any) -> ChecklistDraft:
    raw = step_of(draft.data, step) | (changed or {"title": NEW})
    data = with_step(draft.data, raw, draft.data["cautions"])
    return save_draft(draft=draft, data=data, by=by, seen_version=draft.version)


@pytest.fixture
def others(db: None) -> list[Checklist]:
    return [shipped_checklist(key) for key in ("oil-at-seals", "shock-sits-low")]


def test_the_editor_says_which_lists_have_the_step_before_it_is_saved(
    office: Client, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    page = office.get(url("draft_step", SHARED))
    assert (
        page.context["also_in"]
        == ["Oil at the seals", "Rear shock sits low or is stuck down"][: len(page.context["also_in"])]
    )
    assertContains(page, "Oil at the seals")
    assertNotContains(office.get(url("draft_step", OWN)), 'message__kind">Shared')
    assertContains(office.get(url("draft")), "shared with 1 list")


def test_put_in_use_it_changes_every_list_that_has_it(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    run = start_run(checklist=others[0], facts={"kind": "fork"}, by=owner)
    retitled(draft, owner)
    page = office.get(url("draft_use"))
    assertContains(page, "Other checklists that have the same steps")
    assertContains(page, f"is now “{NEW}”", count=2)
    form = page.context["form"]
    assert form.initial["others"] == "oil-at-seals:1"
    assertRedirects(office.post(url("draft_use"), as_sent(form)), url("checklist"))
    for key in ("sits-low", "oil-at-seals"):
        made = now(key)
        assert (made.number, made.origin, list(made.written_by.all())) == (2, Checklist.Origin.SHOP, [owner])
        assert made.steps.get(key=SHARED).title == NEW
    assert now("shock-sits-low").number == 1
    assert {step.key: step.title for step in steps_of(run.checklist)}[SHARED] != NEW, "a job keeps its words"


def test_their_signatures_say_changed_since(owner: User, draft: ChecklistDraft, others: list[Checklist]) -> None:
    shop = known(owner.shop)
    mechanic = UserFactory(shop=shop, mechanic=True)
    for one in (now("sits-low"), *others):
        sign(shop=shop, checklist=one, seen_wording=1, by=mechanic)
    retitled(draft, owner)
    put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others="oil-at-seals:1")
    standing = [read_through(shop, now(key)).standing for key in ("sits-low", "oil-at-seals", "shock-sits-low")]
    assert standing == [Standing.CHANGED, Standing.CHANGED, Standing.READ]
    assert sign(shop=shop, checklist=now("oil-at-seals"), seen_wording=1, by=owner).as_author


def test_a_step_of_the_list_alone_changes_no_other(owner: User, draft: ChecklistDraft, others: list[Checklist]) -> None:
    retitled(draft, owner, OWN)
    made = put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1)
    assert [one.key for one in made] == ["sits-low"]
    assert now("oil-at-seals").number == 1


def test_another_version_of_such_a_list_meanwhile_is_looked_at_first(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    retitled(draft, owner)
    seen = as_sent(office.get(url("draft_use")).context["form"])
    load_plan(plan=replace(plan_of(others[0]), summary="Otherwise."))
    refused = office.post(url("draft_use"), seen)
    assert refused.status_code == 409
    assertContains(refused, "Of a checklist that shares steps with this one another version", status_code=409)
    assert now("sits-low").number == 1
    assertRedirects(office.post(url("draft_use"), as_sent(refused.context["form"])), url("checklist"))
    assert now("oil-at-seals").number == 3


def test_without_having_seen_the_others_nothing_is_put_in_use(
    owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    retitled(draft, owner)
    with pytest.raises(OtherVersionInUse):
        put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1)
    assert not Checklist.objects.filter(number=2).exists()


def test_what_would_be_dangerous_in_another_list_is_refused_for_all(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    """Taking apart under air what the draft's own list never takes apart: the other list forbids it."""
    other = plan_of(others[0])
    shared = [
        step.key
        for step in other.steps
        if step.safety and step.key in {one.key for one in plan_of(now("sits-low")).steps}
    ]
    needs = next(step.key for step in other.steps if step.safety and step.key in shared and step.requires)
    raw = step_of(draft.data, needs)
    draft.data = with_step(draft.data, raw | {"requires": {}}, draft.data["cautions"])
    ours = plan_of(now("sits-low"))
    loose = replace(ours, steps=tuple(replace(one, requires={}) if one.key == needs else one for one in ours.steps))
    assert loose != ours
    save_draft(draft=draft, data=draft.data, by=owner, seen_version=1)
    with pytest.raises(NotReady):
        put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others="oil-at-seals:1")
    assert not Checklist.objects.filter(number=2).exists()


def test_an_open_draft_of_another_list_takes_the_change_and_its_writer_is_told(
    client: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    colleague = UserFactory(shop=owner.shop, owner=True)
    theirs = start_draft(checklist=others[0], by=colleague)
    retitled(draft, owner)
    client.force_login(colleague)
    address = reverse("office:draft_step", args=["oil-at-seals", SHARED])
    opened = as_sent(client.get(address).context["form"], minutes="7")
    put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others="oil-at-seals:1")
    assert client.post(address, opened).status_code == 409
    theirs.refresh_from_db()
    assert (step_of(theirs.data, SHARED)["title"], theirs.version) == (NEW, 2)
    assert plan_of_draft(theirs.data) == plan_of_draft({**theirs.data})
    assert list(theirs.written_by.all()) == [owner]


def test_a_draft_that_says_otherwise_keeps_it(owner: User, draft: ChecklistDraft, others: list[Checklist]) -> None:
    theirs = retitled(start_draft(checklist=others[0], by=owner), owner, title="In our own words")
    retitled(draft, owner)
    put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others="oil-at-seals:1")
    theirs.refresh_from_db()
    assert (step_of(theirs.data, SHARED)["title"], theirs.version) == ("In our own words", 2)


def test_a_list_that_says_otherwise_keeps_it_and_the_page_says_so(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    plan = plan_of(others[0])
    steps = tuple(replace(one, title="In our own words") if one.key == SHARED else one for one in plan.steps)
    load_plan(plan=replace(plan, steps=steps), origin=Checklist.Origin.SHOP)
    retitled(draft, owner)
    page = office.get(url("draft_use"))
    assertContains(page, "Here it says otherwise, and stays as it is.")
    assertRedirects(office.post(url("draft_use"), as_sent(page.context["form"])), url("checklist"))
    assert (now("oil-at-seals").number, now("sits-low").number) == (2, 2)


def test_a_cause_worded_anew_in_the_draft_is_not_worded_back_by_the_others(owner: User, draft: ChecklistDraft) -> None:
    other = shipped_checklist("loses-air")
    cause = sorted(set(now("sits-low").priors) & set(other.priors))[0]
    data = {**draft.data, "causes": [one | {"for_customer": "Said anew."} if one["key"] == cause else one
                                     for one in draft.data["causes"]]}  # fmt: skip
    saved = save_draft(draft=draft, data=data, by=owner, seen_version=1)
    retitled(saved, owner)
    put_in_use(draft=draft, by=owner, seen_version=3, seen_number=1, seen_others="loses-air:1")
    assert Cause.objects.get(key=cause).for_customer == "Said anew."
    assert now("loses-air").number == 2


def test_a_new_step_gets_no_key_that_another_list_has(office: Client, owner: User, draft: ChecklistDraft) -> None:
    """Under that key it would be the other list's step, and be counted as done with it."""
    other = shipped_checklist("tops-out")
    mine = {step.key for step in plan_of(now("sits-low")).steps}
    foreign = (
        next(step for step in plan_of(other).steps if step.key not in mine and step.key == _slug(step.title))
        if any(step.key not in mine and step.key == _slug(step.title) for step in plan_of(other).steps)
        else None
    )
    title = foreign.title if foreign else "Torn free"
    if foreign is None:
        plan = plan_of(other)
        steps = tuple(replace(one, key="torn-free") if one is plan.steps[-1] else one for one in plan.steps)
        load_plan(plan=replace(plan, steps=steps), origin=Checklist.Origin.SHOP)
    address = url("draft_step_add", "work")
    office.post(address, as_sent(office.get(address).context["form"], title=title, minutes="1", for_customer="Done.",
                                 do__0__text="Do it.", answers__done__says="Done."))  # fmt: skip
    draft.refresh_from_db()
    added = draft.data["steps"][-1]
    assert added["title"] == title
    assert added["key"] == f"{_slug(title)}-2"


def _slug(title: str) -> str:
    from django.utils.text import slugify

    return slugify(title)
