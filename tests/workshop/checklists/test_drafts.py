"""A draft is begun, changed, compared and put in use; what was ticked keeps its words."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from diagnosis.drafts import plan_of_draft, step_of
from diagnosis.models import Checklist, ChecklistDraft, Complaint
from diagnosis.runs import start_run
from diagnosis.steps import steps_of
from tests.checklist_forms import as_sent
from tests.factories import TicketFactory, UserFactory
from workshop.models import User

STEP = "pressure-and-cycle"


def url(name: str, *args: str) -> str:
    return reverse(f"office:{name}", args=["sits-low", *args])


def sent_step(office: Client, key: str = STEP, **changes: Any) -> dict[str, Any]:
    return as_sent(office.get(url("draft_step", key)).context["form"], **changes)


def test_a_step_is_changed_in_the_draft_only(office: Client, owner: User, draft: ChecklistDraft) -> None:
    response = office.post(url("draft_step", STEP), sent_step(office, title="Set it and cycle", minutes="7"))
    assertRedirects(response, url("draft"))
    draft.refresh_from_db()
    assert step_of(draft.data, STEP)["title"] == "Set it and cycle"
    assert (draft.version, draft.changed_by) == (2, owner)
    assert Checklist.objects.get(key="sits-low").steps.get(key=STEP).title == "Set the pressure and level the chambers"


def test_put_in_use_it_is_the_next_version_and_a_run_keeps_its_words(
    office: Client, owner: User, draft: ChecklistDraft
) -> None:
    old = Checklist.objects.get(key="sits-low")
    run = start_run(checklist=old, facts={"kind": "fork"}, by=owner)
    office.post(url("draft_step", STEP), sent_step(office, title="Set it and cycle"))
    page = office.get(url("draft_use"))
    assertContains(page, "Title: “Set the pressure and level the chambers” is now “Set it and cycle”.")
    response = office.post(url("draft_use"), {"seen": 2, "number": 1})
    assertRedirects(response, url("checklist"))
    current = Checklist.objects.get(key="sits-low", is_current=True)
    assert (current.number, current.origin, current.made_by) == (2, Checklist.Origin.SHOP, owner)
    titles = {
        number: {step.key: step.title for step in steps_of(one)} for number, one in ((1, run.checklist), (2, current))
    }
    assert (titles[1][STEP], titles[2][STEP]) == ("Set the pressure and level the chambers", "Set it and cycle")
    assert not ChecklistDraft.objects.exists()


def test_nothing_is_put_in_use_that_is_not_different(office: Client, draft: ChecklistDraft) -> None:
    assert office.post(url("draft_use"), {"seen": 1, "number": 1}).status_code == 422
    assert Checklist.objects.count() == 1


def test_a_circle_is_named_beside_what_comes_first(office: Client, draft: ChecklistDraft) -> None:
    response = office.post(
        url("draft_step", "arrival-pressure"), sent_step(office, "arrival-pressure", needs=[STEP], title="Still here")
    )
    assert response.status_code == 422
    said = " ".join(response.context["form"].errors["needs"])
    circle = "Needs run in a circle: “Still here”, which needs “Set the pressure and level the chambers”, which needs"
    assert circle in said
    assert response.context["form"]["title"].value() == "Still here"
    draft.refresh_from_db()
    assert draft.version == 1


def test_a_step_that_comes_later_is_refused(office: Client, draft: ChecklistDraft) -> None:
    response = office.post(url("draft_step", STEP), sent_step(office, needs=["prove-rest"]))
    assert response.status_code == 422
    assert "comes later in the list" in str(response.context["form"].errors["needs"])


def test_a_cause_without_a_chance_is_refused_beside_it(office: Client, draft: ChecklistDraft) -> None:
    response = office.post(url("draft_step", STEP), sent_step(office, **{"ends_search__low-pressure": ""}))
    assert response.status_code == 422
    assert list(response.context["form"].errors) == ["answers.found.cause"]


def test_a_step_moves_but_not_before_what_it_needs(office: Client, draft: ChecklistDraft) -> None:
    places = [step.key for step in plan_of_draft(draft.data).steps]
    assertRedirects(
        office.post(url("draft_move", "inspect-wipers"), {"seen": 1, "place": places.index("inspect-wipers")}),
        url("draft"),
    )
    draft.refresh_from_db()
    moved = [step.key for step in plan_of_draft(draft.data).steps]
    assert moved.index("inspect-wipers") == places.index("inspect-wipers") - 1
    response = office.post(url("draft_move", "inspect-port"), {"seen": 2, "place": 2})
    assertContains(response, "which comes later in the list", status_code=422)


def test_a_safety_step_keeps_its_place(office: Client, draft: ChecklistDraft) -> None:
    keys = [step.key for step in plan_of_draft(draft.data).steps]
    response = office.post(url("draft_move", "all-air-out"), {"seen": 1, "place": keys.index("all-air-out")})
    assertContains(response, "A safety step keeps its place", status_code=422)


@pytest.mark.parametrize("step", ["all-air-out", "prove-rest"])
def test_safety_and_proof_do_not_just_go(office: Client, draft: ChecklistDraft, step: str) -> None:
    response = office.post(url("draft_retire", step), {"seen": 1, "replaced_by": ""})
    assert response.status_code == 422
    assert "step that replaces it" in str(response.context["form"].errors["replaced_by"])
    draft.refresh_from_db()
    assert draft.version == 1


def test_a_proof_goes_where_another_takes_its_place(office: Client, draft: ChecklistDraft) -> None:
    gone, heir = (step_of(draft.data, key) for key in ("prove-sag", "prove-rest"))
    heir["requires"] = gone["requires"] | heir["requires"]  # it keeps what the other asked for, and what it proved
    heir["proves"] = [*heir["proves"], *(part for part in gone["proves"] if part not in heir["proves"])]
    draft.save()
    assertRedirects(
        office.post(url("draft_retire", "prove-sag"), {"seen": 1, "replaced_by": "prove-rest"}), url("draft")
    )
    draft.refresh_from_db()
    assert step_of(draft.data, "prove-rest")["replaces"] == ["prove-sag"]
    assertContains(office.get(url("draft_use")), "Replaced by")


def test_what_came_after_a_retired_step_comes_after_what_it_needed(office: Client, draft: ChecklistDraft) -> None:
    office.post(url("draft_retire", "compare-spring-travel"), {"seen": 1, "replaced_by": ""})
    draft.refresh_from_db()
    assert all("compare-spring-travel" not in step.get("needs", []) for step in draft.data["steps"])
    response = office.get(url("draft"))
    assertContains(response, "No step can find “Air spring of another travel fitted”")
    assert office.post(url("draft_use"), {"seen": 2, "number": 1}).status_code == 422


def test_a_step_is_added_and_found_in_the_preview(office: Client, draft: ChecklistDraft) -> None:
    form = office.get(url("draft_step_add", "work")).context["form"]
    response = office.post(
        url("draft_step_add", "work"),
        as_sent(form, title="Wipe it dry", minutes="2", do__0__text="Wipe the legs.", for_customer="We wiped it.",
                cautions=["skin"], skill="anyone"),
    )  # fmt: skip
    assertRedirects(response, url("draft"))
    draft.refresh_from_db()
    assert draft.data["steps"][-1]["key"] == "wipe-it-dry"
    page = office.get(url("draft_preview"), {"step": "wipe-it-dry"})
    assertContains(page, "Wipe the legs.")
    assertContains(page, "Grease, oil and skin")


def test_of_two_owners_the_second_is_told_what_the_first_did(
    office: Client, draft: ChecklistDraft, owner: User
) -> None:
    other = UserFactory(owner=True, shop=owner.shop)
    mine = sent_step(office, title="Mine")
    theirs = Client()
    theirs.force_login(other)
    theirs.post(url("draft_step", STEP), sent_step(office, minutes="9"))
    response = office.post(url("draft_step", STEP), mine)
    assertContains(response, "Minutes: “9” is now “6”.", status_code=409)
    assertContains(response, "Put mine in its place", status_code=409)
    form = response.context["form"]
    assert form["title"].value() == "Mine"
    again = dict(form.data.lists())
    assertRedirects(office.post(url("draft_step", STEP), again), url("draft"))
    draft.refresh_from_db()
    assert (step_of(draft.data, STEP)["title"], step_of(draft.data, STEP)["minutes"]) == ("Mine", 6)


def test_another_version_put_in_use_meanwhile_is_said(office: Client, draft: ChecklistDraft) -> None:
    office.post(url("draft_step", STEP), sent_step(office, minutes="9"))
    response = office.post(url("draft_use"), {"seen": 2, "number": 0})
    assertContains(response, "was put in use meanwhile", status_code=409)
    assert Checklist.objects.count() == 1


def test_a_draft_that_changed_meanwhile_is_not_put_in_use(office: Client, draft: ChecklistDraft) -> None:
    office.post(url("draft_step", STEP), sent_step(office, minutes="9"))
    response = office.post(url("draft_use"), {"seen": 1, "number": 1})
    assertContains(response, "changed this draft after you opened it", status_code=409)
    assert Checklist.objects.count() == 1


def test_causes_and_their_weights(office: Client, draft: ChecklistDraft) -> None:
    form = office.get(url("draft_head")).context["form"]
    last = len(draft.data["causes"])
    new = {f"causes.{last}.title": "Ghosts", f"causes.{last}.for_customer": "Ghosts.", f"causes.{last}.prior": "0,5"}
    assertRedirects(office.post(url("draft_head"), as_sent(form, complaint__title="Sits too low") | new), url("draft"))
    draft.refresh_from_db()
    assert draft.data["complaint"]["title"] == "Sits too low"
    assert draft.data["causes"][-1] == {"key": "ghosts", "title": "Ghosts", "for_customer": "Ghosts.", "prior": 0.5}
    assertContains(office.get(url("draft_head")), "No step can find “Ghosts”")


def test_a_refused_cause_loses_nothing(office: Client, draft: ChecklistDraft) -> None:
    form = office.get(url("draft_head")).context["form"]
    response = office.post(url("draft_head"), as_sent(form, causes__0__prior="0", checklist__summary="Mine"))
    assert response.status_code == 422
    assert list(response.context["form"].errors) == ["causes.0.prior"]
    assertContains(response, "Mine", status_code=422)


def test_a_new_complaint_begins_as_a_draft(office: Client) -> None:
    response = office.post(
        reverse("office:checklist_new"), {"title": "Creaks", "suits": ["fork"], "symptoms": "it creaks\nit clicks"}
    )
    assertRedirects(response, reverse("office:draft_head", args=["creaks"]))
    page = office.get(reverse("office:draft", args=["creaks"]))
    assertContains(page, "There are no steps yet.")
    assert not Complaint.objects.exists()


def test_a_draft_is_thrown_away(office: Client, draft: ChecklistDraft) -> None:
    assertRedirects(office.post(url("draft_drop"), {"seen": 1}), url("checklist"))
    assert not ChecklistDraft.objects.exists()


def test_a_retired_complaint_is_not_offered_and_old_tickets_keep_it(
    office: Client, draft: ChecklistDraft, owner: User
) -> None:
    complaint = Complaint.objects.get(key="sits-low")
    ticket = TicketFactory(shop=owner.shop)
    ticket.complaints.add(complaint)
    assertRedirects(office.post(url("complaint_retire")), url("checklist"))
    assertNotContains(office.get(reverse("counter:book_in")), complaint.title)
    edit = reverse("counter:edit_agreement", args=[ticket.number])
    assertContains(office.get(edit), complaint.title)
    assertRedirects(office.post(url("complaint_offer")), url("checklist"))
    assertContains(office.get(reverse("counter:book_in")), complaint.title)


@pytest.mark.parametrize(
    ("name", "args", "most"),
    [
        ("checklists", [], 6), ("checklist", ["sits-low"], 8), ("draft", ["sits-low"], 9),
        ("draft_head", ["sits-low"], 9), ("draft_step", ["sits-low", STEP], 8), ("draft_use", ["sits-low"], 11),
        ("draft_preview", ["sits-low"], 9), ("draft_retire", ["sits-low", STEP], 8),
    ],
)  # fmt: skip
def test_pages_take_a_constant_number_of_queries(
    office: Client, draft: ChecklistDraft, django_assert_max_num_queries: Any, name: str, args: list[str], most: int
) -> None:
    from tests.shipped import shipped_checklist

    counts = []
    for _ in range(2):
        with django_assert_max_num_queries(most) as counted:
            assert office.get(reverse(f"office:{name}", args=args)).status_code == 200
        counts.append(len(counted))
        for key in ("loses-air", "tops-out"):
            shipped_checklist(key)
    assert counts[0] == counts[1]
