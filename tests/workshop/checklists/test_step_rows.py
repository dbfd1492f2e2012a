"""Lines of a step that come and go while it is typed, and the step shown beside its form: nothing of it is saved."""

from __future__ import annotations

from typing import Any

import pytest
from django.http import QueryDict
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from diagnosis.models import ChecklistDraft
from tests.checklist_forms import as_sent
from tests.factories import UserFactory
from tests.shipped import shipped_checklist
from workshop.checklists.drafting import start_draft
from workshop.checklists.step_rows import newest_field, places_of, with_rows_asked

STEP = "pressure-and-cycle"


def sent(**fields: str) -> QueryDict:
    made = QueryDict(mutable=True)
    for name, value in fields.items():
        made[name.replace("__", ".")] = value
    return made


class TestRows:
    """Without a database."""

    def test_a_line_more_stands_last_and_has_the_next_place(self) -> None:
        rows, name = with_rows_asked(sent(do__0__text="One", do__1__text="Two", more="do"))
        assert (name, rows["do.2.text"], rows["do.2.place"]) == ("do", "", "3")
        assert newest_field(rows, name) == "do.2.text"

    def test_a_line_less_moves_the_next_ones_up_with_all_they_have(self) -> None:
        before = sent(
            do__0__text="One", do__0__place="1", do__1__text="Two", do__1__place="2", do__2__text="Three",
            do__2__place="3", do__3__text="Four", do__3__place="9", title="A step", less="do.1",
        )  # fmt: skip
        before.setlist("do.2.when", ["foot_fastener=bolt", "bleed_buttons=false"])
        rows, _ = with_rows_asked(before)
        assert [rows[f"do.{place}.text"] for place in places_of(rows, "do")] == ["One", "Three", "Four"]
        assert [rows[f"do.{place}.place"] for place in places_of(rows, "do")] == ["1", "2", "9"]  # 9 was typed
        assert rows.getlist("do.1.when") == ["foot_fastener=bolt", "bleed_buttons=false"]
        assert rows["title"] == "A step"

    @pytest.mark.parametrize("asked", ["do.x", "do.-1", "do", "", "title.0", "answers.0", "do.99999999999999999999"])
    def test_what_names_no_row_changes_nothing(self, asked: str) -> None:
        before = sent(do__0__text="One", less=asked)
        assert with_rows_asked(before)[0].dict() == before.dict()

    def test_a_row_beyond_the_last_changes_nothing(self) -> None:
        rows, _ = with_rows_asked(sent(do__0__text="One", less="do.7"))
        assert rows["do.0.text"] == "One"

    def test_no_more_lines_than_a_step_may_have(self) -> None:
        rows, _ = with_rows_asked(sent(do__59__text="The last", more="do"))
        assert places_of(rows, "do") == [59]


@pytest.fixture
def office(db: None, client: Client) -> Client:
    owner = UserFactory(owner=True)
    client.force_login(owner)
    start_draft(checklist=shipped_checklist("sits-low"), by=owner)
    return client


ADDRESS = ["sits-low", STEP]


def posted(office: Client, headers: dict[str, str] | None = None, **changes: Any) -> Any:
    address = reverse("office:draft_step", args=ADDRESS)
    form = office.get(address).context["form"]
    return office.post(address, as_sent(form, **changes), headers=headers)


def test_a_line_added_without_a_script_keeps_all_that_is_typed_and_judges_nothing(office: Client) -> None:
    page = posted(office, title="", minutes="a few", more="do")
    assert page.status_code == 200
    form = page.context["form"]
    assert form["minutes"].value() == "a few"
    assert not form.errors
    assertContains(page, "data-focus")
    assert ChecklistDraft.objects.get().version == 1


def test_a_line_that_is_removed_is_gone_from_the_form_alone(office: Client) -> None:
    before = office.get(reverse("office:draft_step", args=ADDRESS)).context["form"].line_rows
    rows = posted(office, less="do.0").context["form"].line_rows
    assert rows[0]["text"].value() == before[1]["text"].value()
    assert len(rows) == len(before) - 1
    assert ChecklistDraft.objects.get().version == 1


def test_what_is_typed_is_shown_as_the_bench_would_and_not_saved(office: Client) -> None:
    shown = posted(office, {"HX-Request": "true"}, title="Set it, then cycle it", show="1")
    assertContains(shown, "Set it, then cycle it")
    assertNotContains(shown, "<!doctype", html=False)
    assert ChecklistDraft.objects.get().version == 1
    assertContains(posted(office, title="Set it, then cycle it", show="1"), "Set it, then cycle it")  # without a script


def test_what_does_not_fit_yet_is_said_beside_the_form(office: Client) -> None:
    shown = posted(office, {"HX-Request": "true"}, minutes="a few", show="1")
    assert shown.status_code == 200
    assertContains(shown, "Not shown yet: Enter a number, 0 or more.")


def test_a_fold_with_an_error_is_open_and_the_others_are_not(office: Client) -> None:
    wrong: dict[str, Any] = {"ends_search__low-pressure": "1.5"}
    page = posted(office, **wrong)
    assert page.status_code == 422
    assert {key for key, section in page.context["sections"].items() if section.is_open} == {"do", "chances"}


def test_an_error_in_an_answer_opens_that_answer(office: Client) -> None:
    page = posted(office, answers__found__says="")
    assert page.status_code == 422
    assert page.context["sections"]["answers"].is_open
    assert [str(group["words"]) for group in page.context["form"].answer_groups if group["has_errors"]] == ["found"]
