"""Adding a model and changing its facts."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from specs.models import SuspensionModel
from tests.factories import (
    SpecValueFactory,
    SuspensionModelFactory,
)
from workshop.office.specs_forms import NOT_KNOWN_HERE

pytestmark = pytest.mark.django_db


def _model_form(**more: object) -> dict[str, object]:
    form = {
        "maker": "Talvorn", "name": "Cobble", "year_from": "2019", "year_to": "", "kind": "fork",
        "travels_mm": "150, 160 mm", "spring_kind": "air", "air_side": "", "spring_retention": "wire_ring",
        "foot_fastener": "nut", "damper_kind": "",
        "crush_washers": "false", "bleed_buttons": "true", "foam_rings": "unknown", "self_equalising": "unknown",
    }  # fmt: skip
    return {**form, **more}


def test_the_owner_adds_a_model(as_role: Callable[[str], Client]) -> None:
    response = as_role("owner").post(reverse("office:specs_model_new"), _model_form())
    model = SuspensionModel.objects.get()
    assert response["Location"] == reverse("office:specs_model", args=[model.pk])
    assert (model.travels_mm, model.crush_washers, model.bleed_buttons, model.foam_rings) == (
        [150, 160],
        False,
        True,
        None,
    )
    assert (model.air_side, model.is_demo, model.version) == ("", False, 1)


@pytest.mark.parametrize(
    ("changed", "field", "reason"),
    [
        ({"maker": ""}, "maker", "Enter this."),
        ({"year_from": "21"}, "year_from", "four digits"),
        ({"year_from": "soon"}, "year_from", "whole number"),
        ({"year_to": "2018"}, "year_to", "cannot end before"),
        ({"travels_mm": "150, long"}, "travels_mm", "whole millimetres"),
        ({"travels_mm": "1500"}, "travels_mm", "up to 400"),
        ({"spring_retention": "glue"}, "spring_retention", "glue"),
        ({"spring_kind": "coil", "self_equalising": "true"}, "self_equalising", "levels through a port"),
        ({"spring_kind": "air_coil", "ramp_chamber": "true"}, "ramp_chamber", "no ramp-up chamber"),
        ({"inverted": "true", "bleed_buttons": "true"}, "bleed_buttons", "an inverted fork"),
        ({"kind": "shock", "crowns": "twin"}, "crowns", "no crown"),
        ({"kind": "shock", "inverted": "true", "bleed_buttons": "false"}, "inverted", "Only a fork"),
        ({"reservoir": "piggyback"}, "reservoir", "rear shocks only"),
    ],
)
def test_a_bad_model_is_refused_beside_its_field(
    as_role: Callable[[str], Client], changed: dict[str, str], field: str, reason: str
) -> None:
    response = as_role("owner").post(reverse("office:specs_model_new"), _model_form(**changed))
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert reason in response.context["form"].errors[field][0]
    assert response.context["form"]["name"].value() == "Cobble"
    assert not SuspensionModel.objects.exists()


def test_a_model_of_that_name_and_year_is_there_already(as_role: Callable[[str], Client]) -> None:
    SuspensionModelFactory(maker="Talvorn", name="Cobble", year_from=2019)
    response = as_role("owner").post(reverse("office:specs_model_new"), _model_form())
    assert response.status_code == 422
    assert "already exists" in str(response.context["form"].non_field_errors())


def test_a_models_facts_are_changed(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    url = reverse("office:specs_model_edit", args=[plume.pk])
    client = as_role("owner")
    assert client.get(url).context["form"]["travels_mm"].value() == "130, 140"
    assert client.post(url, _model_form(seen_version=1)).status_code == 302
    plume.refresh_from_db()
    assert (plume.name, plume.spring_retention, plume.version) == ("Cobble", "wire_ring", 2)


def test_a_travel_with_values_of_its_own_cannot_be_left_out(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    SpecValueFactory(model=plume, travel_mm=140)
    url = reverse("office:specs_model_edit", args=[plume.pk])
    response = as_role("owner").post(url, _model_form(seen_version=1, travels_mm="130"))
    assert response.status_code == 422
    assert "values for 140 mm" in response.context["form"].errors["travels_mm"][0]
    plume.refresh_from_db()
    assert (plume.travels_mm, plume.version) == ([130, 140], 1)


def test_a_model_changed_meanwhile_is_shown_and_the_choice_is_clear(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    SuspensionModel.objects.filter(pk=plume.pk).update(version=2, foot_fastener="nut")
    url = reverse("office:specs_model_edit", args=[plume.pk])
    client = as_role("owner")
    response = client.post(url, _model_form(seen_version=1))
    assert response.status_code == 409
    assert ("Foot fasteners", "nuts") in response.context["meanwhile_facts"]
    form = response.context["form"]
    assert (form["name"].value(), form["seen_version"].value()) == ("Cobble", "2")
    plume.refresh_from_db()
    assert plume.name == "Plume"
    assert client.post(url, _model_form(seen_version=2)).status_code == 302


def test_a_fact_that_nobody_knows_is_said_at_its_field(as_role: Callable[[str], Client]) -> None:
    model = SuspensionModelFactory(crowns="", inverted=None, remote="none")
    form = as_role("owner").get(reverse("office:specs_model_edit", args=[model.pk])).context["form"]
    assert {"crowns", "inverted"} <= {name for name, field in form.fields.items() if field.help_text == NOT_KNOWN_HERE}
    assert form.fields["remote"].help_text != NOT_KNOWN_HERE
    assert form.fields["reservoir"].help_text != NOT_KNOWN_HERE  # a fork has none to know of


TWIN = {"crowns": "twin", "bleed_buttons": "false"}


def test_a_twin_crown_of_little_travel_is_asked_back_for_that_travel_alone(as_role: Callable[[str], Client]) -> None:
    client, url = as_role("owner"), reverse("office:specs_model_new")
    response = client.post(url, _model_form(**TWIN))
    assert response.status_code == 422
    assert "its stem alone clamps the steerer" in response.context["form"].errors["crowns"][0]
    assert 'name="twin_crown_meant"' in response.content.decode()
    assert client.post(url, _model_form(**TWIN, twin_crown_meant="140")).status_code == 422, "another travel was meant"
    assert client.post(url, _model_form(**TWIN, twin_crown_meant="160")).status_code == 302
    model = SuspensionModel.objects.get()
    again = _model_form(**TWIN, seen_version=1, name="Scree")
    assert client.post(reverse("office:specs_model_edit", args=[model.pk]), again).status_code == 302, "asked once"


@pytest.mark.parametrize("travels", ["200", "", "170, 180"])
def test_a_long_one_and_one_of_unknown_travel_are_not_asked(as_role: Callable[[str], Client], travels: str) -> None:
    sent = _model_form(**TWIN, travels_mm=travels)
    assert as_role("owner").post(reverse("office:specs_model_new"), sent).status_code == 302


def test_a_fact_that_rules_out_a_value_on_record_is_refused_at_its_field(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    SuspensionModel.objects.filter(pk=plume.pk).update(crowns="twin")
    SpecValueFactory(model=plume, quantity="lower_crown_torque", typed="9 N·m", magnitude_si=9.0)
    url, client = reverse("office:specs_model_edit", args=[plume.pk]), as_role("owner")
    response = client.post(url, _model_form(seen_version=1, crowns="single", travels_mm="130, 140"))
    assert response.status_code == 422
    assert "Lower crown, clamps of the legs" in response.context["form"].errors["crowns"][0]
    plume.refresh_from_db()
    assert plume.crowns == "twin"
    assert client.post(url, _model_form(seen_version=1, crowns="twin", travels_mm="130, 140")).status_code == 302
