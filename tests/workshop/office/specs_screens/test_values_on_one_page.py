"""Entering a model's values on one page: refusals at their field, nothing lost, two people, copies, a blank sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from specs.entering import ValueSource, change_value, withdraw_value
from specs.expected import expected_keys
from specs.models import SpecValue, SuspensionModel
from specs.quantities import QUANTITIES
from tests.factories import SpecValueFactory, SuspensionModelFactory
from workshop.office.specs_page_form import PageForm, RowOnPage
from workshop.staff.models import User

pytestmark = pytest.mark.django_db

SOURCE = {"source_document": "Manual", "source_revision": "B", "source_page": "12"}


def _url(model: SuspensionModel) -> str:
    return reverse("office:specs_page", args=[model.pk])


def _shown(response: Any) -> dict[str, str]:
    """What the page would send as it stands."""
    form: PageForm = response.context["form"]
    return {name: str(form[name].value() or "") for name in form.fields}


def _row(response: Any, quantity: str) -> RowOnPage:
    form: PageForm = response.context["form"]
    return next(row for group in form.groups for row in group.rows if row.quantity.key == quantity)


def _opened(client: Client, model: SuspensionModel, query: str = "") -> dict[str, str]:
    return _shown(client.get(_url(model) + query))


def test_every_quantity_of_the_model_stands_on_the_page_in_groups(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    form: PageForm = as_role("mechanic").get(_url(plume)).context["form"]
    shown = [row.quantity.key for group in form.groups for row in group.rows]
    assert shown == sorted(expected_keys(plume), key=list(QUANTITIES).index)
    assert [group.label for group in form.groups][:3] == ["Air", "Oil and grease", "Torque"]


def test_a_run_of_values_is_saved_with_one_source_and_blanks_stay_missing(
    as_role: Callable[[str], Client], plume: SuspensionModel, staff: dict[str, User]
) -> None:
    client = as_role("mechanic")
    typed = _opened(client, plume) | SOURCE | {
        "value_axle_torque": "12", "value_stem_torque": "5 ±0,5 N·m", "value_damper_oil": "Fell Fluid 5",
        "page_of_oil": "20",
    }  # fmt: skip
    response = client.post(_url(plume), typed, follow=True)
    assert "3 values are saved" in response.content.decode()
    values = {value.quantity: value for value in SpecValue.objects.all()}
    assert set(values) == {"axle_torque", "stem_torque", "damper_oil"}
    assert values["axle_torque"].source == "Manual, B, p. 12"
    assert values["damper_oil"].source == "Manual, B, p. 20"
    assert values["stem_torque"].tolerance_si == pytest.approx(0.5)
    assert all(value.entered_by == staff["mechanic"] and not value.is_checked for value in values.values())


def test_pressed_twice_is_saved_once(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    client = as_role("mechanic")
    typed = _opened(client, plume) | SOURCE | {"value_axle_torque": "12"}
    for _ in range(2):
        assert client.post(_url(plume), typed).status_code == 302
    assert SpecValue.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "field", "reason"),
    [
        ({"value_axle_torque": "120"}, "value_axle_torque", "was the decimal point lost"),
        ({"value_axle_torque": "8 psi"}, "value_axle_torque", "not a unit of torque"),
        ({"value_axle_torque": "12 ±13"}, "value_axle_torque", "as large as the value"),
        ({"value_axle_torque": "1" * 250}, "value_axle_torque", "240"),
        ({"source_document": ""}, "source_document", "Name the document"),
        ({"document_axle_torque": "x" * 161}, "document_axle_torque", "160"),
        ({"revision_axle_torque": "B"}, "value_axle_torque", "source of"),
        ({"value_axle_torque": "12", "travel_mm": "145"}, "value_axle_torque", "no 145 mm"),
    ],
)
def test_a_refused_value_marks_its_own_field_and_all_that_was_typed_stays(
    as_role: Callable[[str], Client], plume: SuspensionModel, wrong: dict[str, str], field: str, reason: str
) -> None:
    client = as_role("mechanic")
    typed = _opened(client, plume) | SOURCE | {"value_stem_torque": "5", "value_damper_oil": "Fell"} | wrong
    response = client.post(_url(plume), typed)
    assert response.status_code == 422
    form: PageForm = response.context["form"]
    if "travel_mm" not in wrong:
        assert list(form.errors) == [field]
    assert reason in form.errors[field][0]
    assert {name: value for name, value in _shown(response).items() if value} == {
        name: value for name, value in typed.items() if value
    }
    assert not SpecValue.objects.exists()


def test_a_value_that_is_emptied_asks_why_and_is_then_withdrawn(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    client, url = as_role("mechanic"), _url(torque.model)
    typed = _opened(client, torque.model) | {"value_foot_torque_air_leg": ""}
    asked = client.post(url, typed)
    assert asked.status_code == 422
    assert "8 N·m" in asked.context["form"].errors["value_foot_torque_air_leg"][0]
    assert 'name="why_foot_torque_air_leg"' in asked.content.decode()
    assert client.post(url, _shown(asked) | {"why_foot_torque_air_leg": "Misread"}).status_code == 302
    assert SpecValue.objects.get(is_current=True).withdrawn
    assert SpecValue.objects.filter(magnitude_si=0).count() == 0


def test_what_is_left_as_it_stands_keeps_its_source_and_its_check(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    client = as_role("mechanic")
    typed = _opened(client, torque.model) | {"source_document": "Another"}
    assert "Nothing differs" in client.post(_url(torque.model), typed, follow=True).content.decode()
    assert SpecValue.objects.get() == torque


@pytest.mark.parametrize(
    ("typed", "source"),
    [
        ({"page_foot_torque_air_leg": "14"}, "Invented manual for tests, A, p. 14"),  # of the value that stays
        ({"value_foot_torque_air_leg": "9"}, "Manual, B, p. 12"),
        ({"value_foot_torque_air_leg": "9", "page_foot_torque_air_leg": "14"}, "Manual, B, p. 14"),
        ({"value_foot_torque_air_leg": "9", "document_foot_torque_air_leg": "Letter"}, "Letter"),
        (
            {
                "value_foot_torque_air_leg": "9", "source_document": "Invented manual for tests",
                "source_revision": "A", "source_page": "",
            },
            "Invented manual for tests, A, p. 12",
        ),
    ],
)  # fmt: skip
def test_a_changed_row_has_the_source_that_was_said_for_it(
    as_role: Callable[[str], Client], torque: SpecValue, typed: dict[str, str], source: str
) -> None:
    client = as_role("mechanic")
    response = client.post(_url(torque.model), _opened(client, torque.model) | SOURCE | typed)
    assert response.status_code == 302
    assert SpecValue.objects.get(is_current=True).source == source
    assert SpecValue.objects.get(is_current=True).number == 2


def test_two_people_on_one_page_are_told_and_nothing_is_lost(
    as_role: Callable[[str], Client], torque: SpecValue, staff: dict[str, User]
) -> None:
    client, url = as_role("mechanic"), _url(torque.model)
    typed = _opened(client, torque.model) | SOURCE | {
        "value_foot_torque_air_leg": "9", "value_axle_torque": "12", "value_stem_torque": "5",
    }  # fmt: skip
    theirs = change_value(seen=torque, typed="7 N·m", source=ValueSource("Letter"), entered_by=staff["owner"])
    SpecValueFactory(model=torque.model, quantity="axle_torque", typed="11 N·m", magnitude_si=11.0)
    refused = client.post(url, typed)
    assert refused.status_code == 409
    html = refused.content.decode()
    assert "wrote 7 N·m meanwhile" in html
    assert "wrote 11 N·m meanwhile" in html
    assert SpecValue.objects.filter(is_current=True).count() == 2
    shown = _shown(refused)
    assert [shown[f"value_{key}"] for key in ("foot_torque_air_leg", "axle_torque", "stem_torque")] == ["9", "12", "5"]
    assert shown["seen_foot_torque_air_leg"] == str(theirs.pk)
    # Theirs typed into the first row leaves it alone; the second goes into the place of theirs; the third is new.
    assert client.post(url, shown | {"value_foot_torque_air_leg": "7 N·m"}).status_code == 302
    current = {value.quantity: value.typed for value in SpecValue.objects.filter(is_current=True)}
    assert current == {"foot_torque_air_leg": "7 N·m", "axle_torque": "12 N·m", "stem_torque": "5 N·m"}


def test_a_value_withdrawn_meanwhile_is_told_and_can_be_entered_again(
    as_role: Callable[[str], Client], torque: SpecValue, staff: dict[str, User]
) -> None:
    client, url = as_role("mechanic"), _url(torque.model)
    typed = _opened(client, torque.model) | SOURCE | {"value_foot_torque_air_leg": "9"}
    withdraw_value(seen=torque, why="Of the wide model", entered_by=staff["owner"])
    refused = client.post(url, typed)
    assert refused.status_code == 409
    assert "withdrew it meanwhile: Of the wide model" in refused.content.decode()
    assert client.post(url, _shown(refused)).status_code == 302
    assert SpecValue.objects.get(is_current=True).typed == "9 N·m"


def test_blanks_are_filled_from_a_sister_and_what_was_typed_stays(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    model, sister = torque.model, SuspensionModelFactory(maker="Kestrigan", name="Plume Wide")
    for quantity, typed in (("foot_torque_air_leg", "9"), ("axle_torque", "12"), ("stem_torque", "5")):
        SpecValueFactory(
            model=sister, quantity=quantity, typed=f"{typed} N·m", magnitude_si=float(typed), source_document="Wide"
        )
    client = as_role("mechanic")
    typed_here = _opened(client, model) | SOURCE | {"value_stem_torque": "6"}
    filled = client.post(_url(model), typed_here | {"fill": "1", "from": str(sister.pk)})
    assert filled.status_code == 200
    assert "1 blank is filled in from Kestrigan Plume Wide" in filled.content.decode()
    assert SpecValue.objects.filter(model=model).count() == 1
    shown = _shown(filled)
    assert [shown[f"value_{key}"] for key in ("foot_torque_air_leg", "axle_torque", "stem_torque")] == [
        "8 N·m", "12 N·m", "6",
    ]  # fmt: skip
    assert _row(filled, "axle_torque").copied is not None
    client.post(_url(model), shown)
    copied = SpecValue.objects.get(model=model, quantity="axle_torque")
    assert (copied.copied_from, copied.source_document, copied.is_checked) == (sister, "Wide", False)
    assert SpecValue.objects.get(model=model, quantity="stem_torque").copied_from is None
    said = f"copied from {sister}"
    for name, args in (("specs_model", [model.pk]), ("specs_page", [model.pk]),
                       ("specs_versions", [model.pk, "axle_torque"])):  # fmt: skip
        assert said in client.get(reverse(f"office:{name}", args=args)).content.decode(), name
    unchecked = client.get(reverse("office:specs_unchecked"), {"model": model.pk}).content.decode()
    assert f"Copied from {sister}." in unchecked


def test_a_copy_never_stands_in_place_of_what_somebody_entered_meanwhile(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    sister = SuspensionModelFactory(maker="Kestrigan", name="Plume Wide")
    SpecValueFactory(model=sister, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)
    client = as_role("mechanic")
    filled = client.post(_url(plume), _opened(client, plume) | {"fill": "1", "from": str(sister.pk)})
    SpecValueFactory(model=plume, quantity="axle_torque", typed="11 N·m", magnitude_si=11.0)
    refused = client.post(_url(plume), _shown(filled) | SOURCE)
    assert refused.status_code == 409
    assert client.post(_url(plume), _shown(refused)).status_code == 302
    assert SpecValue.objects.get(model=plume).typed == "11 N·m"


@pytest.mark.parametrize("chosen", ["", "x", "999999", "self", "another maker", "a shock"])
def test_only_a_sister_with_values_can_be_copied_from(
    as_role: Callable[[str], Client], plume: SuspensionModel, chosen: str
) -> None:
    others = {
        "self": plume,
        "another maker": SuspensionModelFactory(maker="Oddfell"),
        "a shock": SuspensionModelFactory(maker="Kestrigan", kind="shock"),
    }
    for other in others.values():
        SpecValueFactory(model=other, quantity="damper_oil", typed="Fell", text="Fell", magnitude_si=None)
    client = as_role("mechanic")
    key = str(others[chosen].pk) if chosen in others else chosen
    response = client.post(_url(plume), _opened(client, plume) | {"value_stem_torque": "5", "fill": "1", "from": key})
    assert "Choose the model to copy from" in response.content.decode()
    assert _shown(response)["value_stem_torque"] == "5"


def test_one_travel_has_its_own_page(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    client = as_role("mechanic")
    response = client.get(_url(torque.model) + "?travel=140")
    row = _row(response, "foot_torque_air_leg")
    assert (row.stored, row.field.value()) == (None, "")
    assert row.every_travel is not None
    assert row.every_travel.text == "8 N·m"
    client.post(_url(torque.model), _shown(response) | SOURCE | {"value_foot_torque_air_leg": "9"})
    values = {value.travel_mm: value.typed for value in SpecValue.objects.filter(is_current=True)}
    assert values == {0: "8 N·m", 140: "9 N·m"}


def test_versions_of_another_model_in_the_page_are_no_versions_of_this(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    other = SuspensionModelFactory()
    client = as_role("mechanic")
    typed = _opened(client, other) | SOURCE | {
        "seen_foot_torque_air_leg": str(torque.pk), "value_foot_torque_air_leg": "9",
    }  # fmt: skip
    assert client.post(_url(other), typed).status_code == 302
    torque.refresh_from_db()
    assert torque.is_current
    assert SpecValue.objects.get(model=other).typed == "9 N·m"


def test_the_page_takes_the_same_queries_however_many_values_and_sisters(
    as_role: Callable[[str], Client], plume: SuspensionModel, django_assert_num_queries: DjangoAssertNumQueries,
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:  # fmt: skip
    client = as_role("mechanic")
    SpecValueFactory(model=plume, quantity="max_pressure")
    SpecValueFactory(model=SuspensionModelFactory(maker="Kestrigan"))
    client.get(_url(plume))
    with django_assert_max_num_queries(30) as few:
        client.get(_url(plume))
    for key in expected_keys(plume)[1:]:
        SpecValueFactory(model=plume, quantity=key, copied_from=SuspensionModelFactory(maker="Kestrigan"))
    for _ in range(5):
        SpecValueFactory(model=SuspensionModelFactory(maker="Kestrigan"))
    with django_assert_num_queries(len(few)):
        client.get(_url(plume))


def test_a_blank_sheet_is_handed_out(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    response = as_role("mechanic").get(reverse("office:specs_blank", args=[torque.model_id]))
    assert "attachment" in response["Content-Disposition"]
    lines = response.content.decode("utf-8-sig").splitlines()
    assert len(lines) == len(expected_keys(torque.model))  # the header, and all but the one that is known
    assert not any(",foot_torque_air_leg," in line for line in lines)
