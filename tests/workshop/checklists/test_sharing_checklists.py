"""The list, versions, export and import on screen."""

from __future__ import annotations

import io
import zipfile
from dataclasses import replace
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertRedirects

from diagnosis.checklist_files import export_text, export_zip
from diagnosis.loading import load_plan
from diagnosis.models import Checklist, ChecklistDraft
from diagnosis.stored import in_use
from diagnosis.uploads import MOST_BYTES
from tests.factories import UserFactory
from tests.shipped import shipped_checklist, shipped_folder
from tests.squeezed import squeezed
from workshop.models import User

IMPORT = "office:checklists_import"


@pytest.fixture
def sits_low(db: None) -> Checklist:
    return shipped_checklist("sits-low")


def send(office: Client, content: bytes, name: str = "sits-low.yaml") -> Any:
    return office.post(reverse(IMPORT), {"file": SimpleUploadedFile(name, content)})


def a_change() -> bytes:
    plan = in_use()["sits-low"].plan
    return export_text(replace(plan, summary="The shop’s own words.")).encode()


def test_the_list_says_version_origin_and_who(office: Client, owner: User, sits_low: Checklist) -> None:
    load_plan(plan=replace(in_use()["sits-low"].plan, summary="Mine."), by=owner, origin=Checklist.Origin.SHOP)
    page = office.get(reverse("office:checklists"))
    assert "Version 2, the shop’s own" in squeezed(page.text)
    assertContains(page, str(owner))


def test_a_shipped_text_beside_the_shops_own_is_compared_and_taken_over(office: Client, sits_low: Checklist) -> None:
    plan = shipped_folder().checklist("sits-low")
    load_plan(plan=replace(plan, summary="Mine."), origin=Checklist.Origin.SHOP)
    beside = Checklist.objects.get(number=1)
    Checklist.objects.filter(pk=beside.pk).update(number=3)
    assertContains(office.get(reverse("office:checklists")), "A newer shipped text waits")
    shown = office.get(reverse("office:checklist", args=["sits-low"]), {"version": 3})
    assertContains(shown, "Summary: “Mine.” is now")
    office.post(reverse("office:draft_begin", args=["sits-low"]), {"number": 3})
    assert ChecklistDraft.objects.get().data["checklist"]["summary"] == plan.summary


def test_one_and_all_are_exported(office: Client, sits_low: Checklist) -> None:
    shipped_checklist("loses-air")
    one = office.get(reverse("office:checklist_export", args=["sits-low"]))
    assert one["Content-Disposition"] == 'attachment; filename="sits-low.yaml"'
    assert one.content.decode().startswith("layout: 1\ncomplaint:\n  key: sits-low\n")
    everything = office.get(reverse("office:checklists_export"))
    assert zipfile.ZipFile(io.BytesIO(everything.content)).namelist() == ["loses-air.yaml", "sits-low.yaml"]


def test_a_file_is_shown_first_and_imported_when_confirmed(office: Client, owner: User, sits_low: Checklist) -> None:
    shown = send(office, a_change())
    assertContains(shown, "Summary: “")
    assert Checklist.objects.count() == 1
    form = shown.context["confirmation"]
    sent = {name: form[name].value() for name in ("content", "digest")}
    assertRedirects(office.post(reverse("office:checklists_import_confirm"), sent), reverse("office:checklists"))
    current = Checklist.objects.get(is_current=True)
    assert (current.number, current.summary, current.made_by) == (2, "The shop’s own words.", owner)


def test_what_changed_since_the_dry_run_is_shown_anew(office: Client, sits_low: Checklist) -> None:
    form = send(office, a_change()).context["confirmation"]
    load_plan(plan=replace(in_use()["sits-low"].plan, title="Otherwise"))
    sent = {name: form[name].value() for name in ("content", "digest")}
    response = office.post(reverse("office:checklists_import_confirm"), sent)
    assertContains(response, "nothing was imported", status_code=409)
    assert Checklist.objects.get(is_current=True).title == "Otherwise"


def test_a_bad_file_is_told_by_step_and_reason(office: Client, sits_low: Checklist) -> None:
    content = export_text(in_use()["sits-low"].plan).replace("minutes: 6.0", "minutes: -6", 1).encode()
    shown = send(office, content)
    assertContains(shown, "Step <code>pressure-and-cycle</code>: minutes must be a number and not negative")
    assertContains(shown, "There is nothing to import in this file.")


def test_all_that_is_wrong_in_a_file_is_told_at_once(office: Client, sits_low: Checklist) -> None:
    text = export_text(in_use()["sits-low"].plan).replace("minutes: 6.0", "minutes: -6", 1)
    text = text.replace("skill: anyone", "skill: someone", 1).replace("quantity: pressure", "quantity: pull", 1)
    page = squeezed(send(office, text.encode()).content.decode())
    assert 'minutes must be a number and not negative, not -6<span class="soft small">(minutes)</span>' in page
    assert "skill &#x27;someone&#x27; is none of anyone, mechanic, damper specialist" in page
    assert "(readings 1, quantity)</span>" in page


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"#" * (MOST_BYTES + 1), "larger than 1 MB"),
        (b"\xff\xfe\x00", "not UTF-8 text"),
        (b"PK\x03\x04", "The zip is damaged"),
    ],
)
def test_what_cannot_be_looked_at_is_refused_beside_the_field(office: Client, content: bytes, said: str) -> None:
    response = send(office, content)
    assert response.status_code == 422
    assert said in str(response.context["form"].errors["file"])


def test_a_confirmation_that_was_tampered_with_is_refused(office: Client, sits_low: Checklist) -> None:
    response = office.post(reverse("office:checklists_import_confirm"), {"content": "?", "digest": "x"})
    assertContains(response, "did not arrive whole", status_code=422)


def test_an_import_looks_at_one_file_and_at_many_with_the_same_queries(
    office: Client, sits_low: Checklist, django_assert_max_num_queries: Any
) -> None:
    shipped_checklist("loses-air")
    shipped_checklist("tops-out")
    one = a_change()
    several = export_zip(replace(item.plan, summary="Mine.") for item in in_use().values())
    counts = []
    for content in (one, several):
        with django_assert_max_num_queries(8) as counted:
            assert send(office, content).status_code == 200
        counts.append(len(counted))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("role", ["counter", "mechanic"])
@pytest.mark.parametrize("name", ["checklists", "checklists_import", "checklists_export", "checklist_new"])
def test_only_the_owner_comes_here(client: Client, sits_low: Checklist, role: str, name: str) -> None:
    client.force_login(UserFactory(role=role))
    assert client.get(reverse(f"office:{name}")).status_code == 403
