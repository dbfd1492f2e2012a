"""Entering, changing and withdrawing a value: refusals beside the field, nothing lost, two at once."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from specs.entering import ValueSource, change_value, enter_value
from specs.expected import expected_keys
from specs.models import SpecValue, SuspensionModel
from specs.units import to_si
from tests.factories import (
    SpecValueFactory,
    UserFactory,
)
from workshop.staff.models import Shop, User

pytestmark = pytest.mark.django_db


def _typed(typed: str = "9 N·m", **more: object) -> dict[str, object]:
    form = {"travel_mm": 0, "typed": typed, "tolerance": "", "source_document": "Manual", "source_revision": "B"}
    return {**form, "source_page": "12", "seen": "", **more}


def test_a_value_is_entered_in_any_unit(
    as_role: Callable[[str], Client], plume: SuspensionModel, staff: dict[str, User]
) -> None:
    url = reverse("office:specs_value", args=[plume.pk, "foot_torque_air_leg"])
    response = as_role("mechanic").post(url, _typed("70 in-lb", tolerance="5 %", travel_mm=140))
    assert response.status_code == 302
    value = SpecValue.objects.get()
    assert value.magnitude_si == pytest.approx(to_si(70, "torque", "in·lbf"))
    assert (value.travel_mm, value.entered_by, value.typed) == (140, staff["mechanic"], "70 in-lb")


def test_a_number_alone_takes_the_unit_beside_the_field(
    as_role: Callable[[str], Client], plume: SuspensionModel, shop: Shop
) -> None:
    Shop.objects.filter(pk=shop.pk).update(pressure_unit="bar")
    as_role("mechanic").post(reverse("office:specs_value", args=[plume.pk, "max_pressure"]), _typed("8"))
    assert SpecValue.objects.get().magnitude_si == pytest.approx(8e5)


def test_the_source_last_used_is_offered_again(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    client = as_role("mechanic")
    client.post(reverse("office:specs_value", args=[plume.pk, "axle_torque"]), _typed("12"))
    form = client.get(reverse("office:specs_value", args=[plume.pk, "stem_torque"])).context["form"]
    assert (form.initial["source_document"], form.initial["source_revision"]) == ("Manual", "B")
    assert "source_page" not in form.initial


def test_save_and_go_on_to_the_next_missing_value(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    SpecValueFactory(model=plume, quantity="caliper_torque")
    url = reverse("office:specs_value", args=[plume.pk, "axle_torque"])
    response = as_role("mechanic").post(url, _typed("12", next_missing="1"))
    assert response["Location"] == reverse("office:specs_value", args=[plume.pk, "stem_torque"])


@pytest.mark.parametrize(
    ("typed", "field", "reason"),
    [
        (_typed(""), "typed", "Enter this."),
        (_typed("80 N·m"), "typed", "was the decimal point lost"),
        (_typed("8 psi"), "typed", "not a unit of torque"),
        (_typed("eight"), "typed", "Enter a number"),
        (_typed("8", tolerance="9"), "tolerance", "as large as the value"),
        (_typed("8", source_document=" "), "source_document", "Enter this."),
        (_typed("8", source_document="x" * 161), "source_document", "160"),
        (_typed("8", travel_mm=145), "travel_mm", "145"),
    ],
)
def test_what_is_refused_stands_beside_its_field_and_stays(
    as_role: Callable[[str], Client], plume: SuspensionModel, typed: dict[str, object], field: str, reason: str
) -> None:
    response = as_role("mechanic").post(reverse("office:specs_value", args=[plume.pk, "foot_torque_air_leg"]), typed)
    assert response.status_code == 422
    assert not SpecValue.objects.exists()
    form = response.context["form"]
    assert list(form.errors) == [field]
    assert reason in form.errors[field][0]
    assert form["typed"].value() == typed["typed"]
    assert form["source_page"].value() == "12"


def test_every_error_shows_at_once(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    url = reverse("office:specs_value", args=[plume.pk, "foot_torque_air_leg"])
    response = as_role("mechanic").post(url, _typed("80 N·m", source_document=""))
    assert set(response.context["form"].errors) == {"typed", "source_document"}


def test_a_change_makes_a_new_version(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    url = reverse("office:specs_value", args=[torque.model_id, torque.quantity])
    client = as_role("mechanic")
    assert client.get(url).context["form"].initial["typed"] == "8 N·m"
    assert client.post(url, _typed("9 N·m", seen=torque.pk)).status_code == 302
    assert SpecValue.objects.get(is_current=True).number == 2


def test_sending_a_stored_value_unchanged_is_refused(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    stored = enter_value(
        model=plume, quantity="foot_torque_air_leg", typed="11 N·m", tolerance="5 %",
        source=ValueSource("Manual"), entered_by=UserFactory(),
    )  # fmt: skip
    client = as_role("mechanic")
    url = reverse("office:specs_value", args=[plume.pk, "foot_torque_air_leg"])
    response = client.post(url, client.get(url).context["form"].initial)
    assert response.status_code == 422
    assert "Nothing differs" in response.context["form"].errors["typed"][0]
    assert SpecValue.objects.get() == stored


def test_a_value_changed_meanwhile_is_shown_and_the_choice_is_clear(
    as_role: Callable[[str], Client], torque: SpecValue, staff: dict[str, User]
) -> None:
    theirs = change_value(seen=torque, typed="7 N·m", source=ValueSource("Letter"), entered_by=staff["owner"])
    url = reverse("office:specs_value", args=[torque.model_id, torque.quantity])
    client = as_role("mechanic")
    response = client.post(url, _typed("9 N·m", seen=torque.pk))
    assert response.status_code == 409
    html = response.content.decode()
    assert '<span class="spec__value">7 <span class="spec__unit">N·m</span>' in html
    assert "Letter" in html
    assert "Put mine in its place" in html
    form = response.context["form"]
    assert (form["typed"].value(), form["seen"].value()) == ("9 N·m", str(theirs.pk))
    assert client.post(url, _typed("9 N·m", seen=theirs.pk)).status_code == 302
    assert SpecValue.objects.get(is_current=True).typed == "9 N·m"


def test_entering_where_someone_entered_meanwhile_is_a_conflict(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    url = reverse("office:specs_value", args=[torque.model_id, torque.quantity])
    assert as_role("mechanic").post(url, _typed("9 N·m")).status_code == 409
    assert SpecValue.objects.count() == 1


def test_versions_say_who_and_when(as_role: Callable[[str], Client], torque: SpecValue, staff: dict[str, User]) -> None:
    change_value(seen=torque, typed="9 N·m", source=ValueSource("Letter"), entered_by=staff["owner"])
    response = as_role("counter").get(reverse("office:specs_versions", args=[torque.model_id, torque.quantity]))
    html = response.content.decode()
    assert [value.number for value, _ in response.context["lines"]] == [2, 1]
    assert str(staff["owner"]) in html
    assert "Withdraw" not in html


def test_a_value_is_withdrawn_with_a_reason(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    url = reverse("office:specs_withdraw", args=[torque.model_id, torque.quantity])
    client = as_role("mechanic")
    refused = client.post(url, {"why": "", "seen": torque.pk})
    assert refused.status_code == 422
    assert list(refused.context["form"].errors) == ["why"]
    assert client.post(url, {"why": "Misread.", "seen": torque.pk}).status_code == 302
    assert SpecValue.objects.get(is_current=True).withdrawn
    page = client.get(reverse("office:specs_model", args=[torque.model_id])).content.decode()
    assert page.count("see the maker’s manual") == len(expected_keys(torque.model))
    again = client.post(url, {"why": "Misread.", "seen": torque.pk}, follow=True)
    assert "changed meanwhile" in again.content.decode()


def test_the_torque_of_a_crown_that_a_fork_has_not_is_refused_beside_the_value(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    SuspensionModel.objects.filter(pk=plume.pk).update(crowns="single")
    url = reverse("office:specs_value", args=[plume.pk, "lower_crown_torque"])
    sent = {"travel_mm": 0, "typed": "9 N·m", "source_document": "Manual", "seen": ""}
    response = as_role("mechanic").post(url, sent)
    assert response.status_code == 422
    assert "single crown" in response.context["form"].errors["typed"][0]
    assert response.context["form"]["typed"].value() == "9 N·m"
