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
from workshop.checklists import sharing
from workshop.checklists.drafting import NotReady, OtherVersionInUse, put_in_use, save_draft, start_draft
from workshop.checklists.sharing import shared_with
from workshop.models import User
from workshop.signed.signing import sign
from workshop.signed.standing import ReadStanding, read_through

LIST, OTHER, APART = "shock-loses-air", "shock-sits-low", "oil-at-seals"
SHARED, OWN, CAUSE = "shock-record-arrival", "shock-prove-the-loss", "can-piston-seal"
SEEN = "shock-sits-low:1"
NEW = "Write down how it came in"


def url(name: str, *args: str) -> str:
    return reverse(f"office:{name}", args=[LIST, *args])


def now(key: str) -> Checklist:
    return Checklist.objects.get(key=key, is_current=True)


def retitled(draft: ChecklistDraft, by: User, step: str = SHARED, **changed: Any) -> ChecklistDraft:
    raw = step_of(draft.data, step) | (changed or {"title": NEW})
    data = with_step(draft.data, raw, draft.data["cautions"])
    return save_draft(draft=draft, data=data, by=by, seen_version=draft.version)


@pytest.fixture
def draft(owner: User) -> ChecklistDraft:
    """Of a list that is gone through in a moment."""
    return start_draft(checklist=shipped_checklist(LIST), by=owner)


@pytest.fixture
def others(db: None) -> list[Checklist]:
    return [shipped_checklist(key) for key in (OTHER, APART)]


def test_the_editor_says_which_lists_have_the_step_before_it_is_saved(
    office: Client, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    page = office.get(url("draft_step", SHARED))
    assert page.context["also_in"] == [others[0].title]
    assertContains(page, f"Shared</span> with {others[0].title}.")
    assertNotContains(office.get(url("draft_step", OWN)), "Shared</span>")
    assertContains(office.get(url("draft")), "shared with 1 list")


def test_put_in_use_it_changes_every_list_that_has_it(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    run = start_run(checklist=others[0], facts={"kind": "shock"}, by=owner)
    retitled(draft, owner)
    page = office.get(url("draft_use"))
    assertContains(page, "Other checklists that have the same steps")
    assertContains(page, f"is now “{NEW}”", count=2)
    form = page.context["form"]
    assert form.initial["others"] == SEEN
    assertRedirects(office.post(url("draft_use"), as_sent(form)), url("checklist"))
    for key in (LIST, OTHER):
        made = now(key)
        assert (made.number, made.origin, list(made.written_by.all())) == (2, Checklist.Origin.SHOP, [owner])
        assert made.steps.get(key=SHARED).title == NEW
    assert now(APART).number == 1
    assert {step.key: step.title for step in steps_of(run.checklist)}[SHARED] != NEW, "a job keeps its words"


def test_their_signatures_say_changed_since(owner: User, draft: ChecklistDraft, others: list[Checklist]) -> None:
    shop = known(owner.shop)
    mechanic = UserFactory(shop=shop, mechanic=True)
    for one in (now(LIST), *others):
        sign(shop=shop, checklist=one, seen_wording=1, by=mechanic)
    retitled(draft, owner)
    put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others=SEEN)
    standing = [read_through(shop, now(key)).standing for key in (LIST, OTHER, APART)]
    assert standing == [ReadStanding.CHANGED, ReadStanding.CHANGED, ReadStanding.READ]
    assert sign(shop=shop, checklist=now(OTHER), seen_wording=1, by=owner).as_author


def test_a_step_of_the_list_alone_changes_no_other(owner: User, draft: ChecklistDraft, others: list[Checklist]) -> None:
    retitled(draft, owner, OWN)
    made = put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1)
    assert [one.key for one in made] == [LIST]
    assert now(OTHER).number == 1


def test_another_version_of_such_a_list_meanwhile_is_looked_at_first(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    retitled(draft, owner)
    seen = as_sent(office.get(url("draft_use")).context["form"])
    load_plan(plan=replace(plan_of(others[0]), summary="Otherwise."))
    refused = office.post(url("draft_use"), seen)
    assert refused.status_code == 409
    assertContains(refused, "Of a checklist that shares steps with this one another version", status_code=409)
    assert now(LIST).number == 1
    assertRedirects(office.post(url("draft_use"), as_sent(refused.context["form"])), url("checklist"))
    assert now(OTHER).number == 3


def test_without_having_seen_the_others_nothing_is_put_in_use(
    owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    retitled(draft, owner)
    with pytest.raises(OtherVersionInUse):
        put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1)
    assert not Checklist.objects.filter(number=2).exists()


def test_another_list_is_judged_as_its_own_draft_would_be(draft: ChecklistDraft, others: list[Checklist]) -> None:
    """It may not lose what a safety step requires, and it is gone through where more than words is different."""
    before = plan_of(now(LIST))

    def said(key: str, **changed: Any) -> str:
        steps = tuple(replace(one, **changed) if one.key == key else one for one in before.steps)
        (other,) = shared_with(before, replace(before, steps=steps))
        return " ".join(other.problems)

    assert said(SHARED, title=NEW) == ""
    assert "Keep what" in said("shock-can-on", requires={})
    assert "Broken at “Air can off”" in said("shock-can-off", requires={})


def test_what_would_be_wrong_in_another_list_is_refused_for_all(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sharing, "_problems", lambda before, after: ["There the can flies off."])
    retitled(draft, owner)
    page = office.get(url("draft_use"))
    assertContains(page, "There the can flies off.")
    assertNotContains(page, "Put in use</button>")
    assert office.post(url("draft_use"), as_sent(page.context["form"])).status_code == 422
    with pytest.raises(NotReady):
        put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others=SEEN)
    assert not Checklist.objects.filter(number=2).exists()
    assert ChecklistDraft.objects.filter(key=LIST).exists()


def test_an_open_draft_of_another_list_takes_the_change_and_its_writer_is_told(
    client: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    colleague = UserFactory(shop=owner.shop, owner=True)
    theirs = start_draft(checklist=others[0], by=colleague)
    retitled(draft, owner)
    client.force_login(colleague)
    address = reverse("office:draft_step", args=[OTHER, SHARED])
    opened = as_sent(client.get(address).context["form"], minutes="7")
    put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others=SEEN)
    assert client.post(address, opened).status_code == 409
    theirs.refresh_from_db()
    assert (step_of(theirs.data, SHARED)["title"], theirs.version) == (NEW, 2)
    assert plan_of_draft(theirs.data).step(SHARED).title == NEW
    assert list(theirs.written_by.all()) == [owner]


def test_a_draft_that_says_otherwise_keeps_it(owner: User, draft: ChecklistDraft, others: list[Checklist]) -> None:
    theirs = retitled(start_draft(checklist=others[0], by=owner), owner, title="In our own words")
    retitled(draft, owner)
    put_in_use(draft=draft, by=owner, seen_version=2, seen_number=1, seen_others=SEEN)
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
    assert (now(OTHER).number, now(LIST).number) == (2, 2)


def test_a_cause_worded_anew_in_the_draft_is_not_worded_back_by_the_others(
    owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    causes = [one | {"for_customer": "Said anew."} if one["key"] == CAUSE else one for one in draft.data["causes"]]
    saved = save_draft(draft=draft, data={**draft.data, "causes": causes}, by=owner, seen_version=1)
    put_in_use(draft=retitled(saved, owner), by=owner, seen_version=3, seen_number=1, seen_others=SEEN)
    assert Cause.objects.get(key=CAUSE).for_customer == "Said anew."
    assert now(OTHER).number == 2


def test_a_new_step_gets_no_key_that_another_list_has(
    office: Client, owner: User, draft: ChecklistDraft, others: list[Checklist]
) -> None:
    """Under that key it would be the other list's step, and be counted as done with it."""
    plan = plan_of(others[1])
    steps = tuple(replace(one, key="torn-free") if one is plan.steps[-1] else one for one in plan.steps)
    load_plan(plan=replace(plan, steps=steps), origin=Checklist.Origin.SHOP)
    address = url("draft_step_add", "work")
    form = office.get(address).context["form"]
    sent = as_sent(form, title="Torn free", minutes="1", skill="mechanic", for_customer="We did it.")
    says = {"answers.done.says": "Done.", "answers.left_out.says": "Left out."}
    response = office.post(address, sent | says | {"do.0.text": "Do it."})
    assert response.status_code == 302, response.context["form"].errors
    draft.refresh_from_db()
    assert draft.data["steps"][-1]["key"] == "torn-free-2"
