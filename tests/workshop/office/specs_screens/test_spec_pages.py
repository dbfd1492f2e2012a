"""The list of models and a model: what they show, and how many queries they take."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from specs.entering import ValueSource, enter_value
from specs.expected import expected_keys
from specs.models import SpecValue, SuspensionModel
from specs.quantities import QUANTITIES
from tests.factories import (
    KitLineFactory,
    ServiceKitFactory,
    SpecValueFactory,
    SuspensionModelFactory,
)
from tests.squeezed import squeezed
from workshop.staff.models import Shop, User

pytestmark = pytest.mark.django_db


def test_models_are_found_by_part_of_their_name_or_a_year(as_role: Callable[[str], Client]) -> None:
    SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021)
    SuspensionModelFactory(maker="Talvorn", name="Cobble", year_from=2019, year_to=2020)
    client = as_role("counter")

    def found(words: str) -> list[str]:
        return [line.model.name for line in client.get(reverse("office:specs"), {"q": words}).context["lines"]]

    assert found("") == ["Plume", "Cobble"]
    assert found("pLU") == ["Plume"]
    assert found("talv cob") == ["Cobble"]
    assert found("talv plume") == []
    assert found("2020") == ["Cobble"]
    assert found("2024") == ["Plume"]


def test_the_list_says_how_many_values_are_not_checked(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    SpecValueFactory(model=torque.model, is_current=False, number=1)
    SpecValueFactory(model=torque.model, number=2)
    (line,) = as_role("counter").get(reverse("office:specs")).context["lines"]
    assert (line.values, line.unchecked) == (2, 2)


@pytest.mark.parametrize("number", ["2", "99", "-1", "x"])
def test_fifty_models_a_page(as_role: Callable[[str], Client], number: str) -> None:
    SuspensionModelFactory.create_batch(51)
    response = as_role("counter").get(reverse("office:specs"), {"page": number})
    assert len(response.context["lines"]) == (50 if number in {"x"} else 1)


@pytest.mark.parametrize("models", [10, 1000])
def test_the_list_takes_the_same_queries_for_ten_models_and_a_thousand(
    as_role: Callable[[str], Client],
    models: int,
    django_assert_max_num_queries: DjangoAssertNumQueries,
) -> None:
    made = SuspensionModel.objects.bulk_create(SuspensionModelFactory.build_batch(models))
    SpecValue.objects.bulk_create(SpecValueFactory.build(model=model) for model in made)
    client = as_role("owner")
    with django_assert_max_num_queries(6):
        assert client.get(reverse("office:specs")).status_code == 200


def test_values_stand_with_unit_tolerance_source_and_mark(
    as_role: Callable[[str], Client], plume: SuspensionModel, staff: dict[str, User]
) -> None:
    enter_value(
        model=plume, quantity="foot_torque_air_leg", typed="8 N·m", tolerance="5 %",
        source=ValueSource("Service manual", "rev. C", "12"), entered_by=staff["owner"],
    )  # fmt: skip
    html = as_role("counter").get(reverse("office:specs_model", args=[plume.pk])).content.decode()
    assert (
        '<span class="spec__value">8<span class="spec__unit">N·m</span><span class="spec__unit">±0.4</span>'
        in squeezed(html)
    )
    assert "Service manual, rev. C, p. 12" in html
    assert html.count("not checked against the manual") == 1
    assert "an internal circlip" in html


def test_a_shop_reads_its_own_units(as_role: Callable[[str], Client], torque: SpecValue, shop: Shop) -> None:
    Shop.objects.filter(pk=shop.pk).update(torque_unit="in·lbf")
    html = as_role("counter").get(reverse("office:specs_model", args=[torque.model_id])).content.decode()
    # 8 N·m by NIST SP 811: 70.8 in·lbf.
    assert '<span class="spec__value">71 <span class="spec__unit">in·lbf</span>' in html


def test_a_missing_value_is_a_blank_and_nothing_is_guessed(
    as_role: Callable[[str], Client], plume: SuspensionModel
) -> None:
    SpecValueFactory(model=plume, quantity="positive_volume", travel_mm=130, typed="150 ml", magnitude_si=150e-6)
    response = as_role("counter").get(reverse("office:specs_model", args=[plume.pk]))
    rows = {row.quantity.key: row for group in response.context["groups"] for row in group.rows}
    assert [(entry.travel_mm, entry.missing) for entry in rows["positive_volume"].entries] == [
        (130, False),
        (140, True),
    ]
    assert [entry.missing for entry in rows["axle_torque"].entries] == [True]
    assert response.content.decode().count("see the maker’s manual") == len(expected_keys(plume))
    assert "Transfer port, travel from extended" in str(response.context["springs"][0].gap.labels)


def test_a_shock_has_no_foot_bolts(as_role: Callable[[str], Client]) -> None:
    shock = SuspensionModelFactory(shock=True)
    response = as_role("counter").get(reverse("office:specs_model", args=[shock.pk]))
    assert "Foot fastener" not in response.content.decode()
    assert response.context["springs"] == []


def test_kits_are_listed_the_smallest_service_first(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    for level in ("full", "lowers"):
        KitLineFactory(kit=ServiceKitFactory(model=plume, level=level), part__description=f"Parts of {level}")
    html = as_role("counter").get(reverse("office:specs_model", args=[plume.pk])).content.decode()
    assert html.index("Parts of lowers") < html.index("Parts of full")


@pytest.mark.parametrize("travels", [1, 30])
def test_a_model_takes_the_same_queries_for_few_values_and_a_thousand(
    as_role: Callable[[str], Client], travels: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    model = SuspensionModelFactory(travels_mm=list(range(100, 100 + travels)))
    SpecValue.objects.bulk_create(
        SpecValueFactory.build(
            model=model, quantity=key, travel_mm=travel_mm, text="x" if not quantity.dimension else ""
        )
        for key, quantity in QUANTITIES.items()
        for travel_mm in model.travels_mm
    )
    client = as_role("owner")
    with django_assert_max_num_queries(6):
        assert client.get(reverse("office:specs_model", args=[model.pk])).status_code == 200


def test_an_unknown_model_or_quantity_is_not_found(as_role: Callable[[str], Client], plume: SuspensionModel) -> None:
    client = as_role("owner")
    assert client.get(reverse("office:specs_model", args=[plume.pk + 1])).status_code == 404
    assert client.get(reverse("office:specs_value", args=[plume.pk, "colour"])).status_code == 404
    assert client.get(reverse("office:specs_versions", args=[plume.pk, "colour"])).status_code == 404
