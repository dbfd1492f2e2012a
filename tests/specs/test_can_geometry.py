"""The air can of a shock out of spec values: entered, imported and checked like all others, and nothing guessed."""

from __future__ import annotations

import pytest

from specs.expected import expected_keys
from specs.lookup import CAN_GEOMETRY, GeometryGap, can_geometry
from specs.models import SpecValue, SuspensionModel
from specs.physics.air_can import AirCan
from specs.typed_measures import read_leverage
from specs.units import NumberUnclear, UnitError
from tests.factories import SpecValueFactory, SuspensionModelFactory, UserFactory
from workshop.demo.specs_data import load_demo_specs

A_CAN = {
    "piston_bore": 0.046, "damper_body": 0.038, "positive_volume": 150e-6, "negative_volume": 40e-6,
    "port_travel": 0.004, "max_pressure": 2.068e6,
}  # fmt: skip


def shock_with(**values: float) -> SuspensionModel:
    model = SuspensionModelFactory.create(shock=True)
    for key, magnitude_si in values.items():
        SpecValueFactory.create(model=model, quantity=key, travel_mm=0, magnitude_si=magnitude_si, typed=f"{key}")
    return model


@pytest.mark.django_db
def test_every_value_of_a_can_goes_to_its_place() -> None:
    can = can_geometry(shock_with(**A_CAN), 0.060)
    assert can == AirCan(0.060, 0.046, 0.038, 150e-6, 40e-6, 0.004, 2.068e6)


@pytest.mark.django_db
@pytest.mark.parametrize("key", list(CAN_GEOMETRY))
def test_what_is_missing_of_a_can_is_named_and_nothing_put_in_its_place(key: str) -> None:
    model = shock_with(**{name: value for name, value in A_CAN.items() if name != key})
    assert can_geometry(model, 0.060) == GeometryGap((key,))


@pytest.mark.django_db
def test_a_can_that_cannot_be_says_which_value_is_wrong() -> None:
    gap = can_geometry(shock_with(**A_CAN | {"damper_body": 0.050}), 0.060)
    assert gap == GeometryGap(
        reason="Damper body inside the air can: the damper body is not thinner than the can’s bore."
    )
    gap = can_geometry(shock_with(**A_CAN | {"positive_volume": 90e-6}), 0.060)
    assert isinstance(gap, GeometryGap)
    assert gap.reason.startswith("Positive chamber volume, extended: the chamber vanishes at 54.2 mm")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"kind": "fork"}, "Only the air can of a shock is calculated."),
        ({"spring_kind": "coil"}, "Only the air can of a shock is calculated."),
        ({"self_equalising": False}, "Its chambers have valves of their own and do not level each other."),
    ],
)
def test_other_springs_are_no_such_can(fields: dict[str, object], says: str) -> None:
    model = shock_with(**A_CAN)
    for name, value in fields.items():
        setattr(model, name, value)
    assert can_geometry(model, 0.060) == GeometryGap(reason=says)


@pytest.mark.django_db
def test_only_a_shock_with_air_is_asked_for_its_damper_body() -> None:
    air, coil = shock_with(), shock_with()
    coil.spring_kind = "coil"
    assert "damper_body" in expected_keys(air)
    assert "damper_body" not in expected_keys(coil)
    assert "damper_body" not in expected_keys(SuspensionModelFactory.create())


@pytest.mark.django_db
def test_the_demos_can_is_whole_from_the_csv_labelled_and_one_volume_not_checked() -> None:
    load_demo_specs(entered_by=UserFactory(), checked_by=UserFactory())
    model = SuspensionModel.objects.get(name="Sluice")
    for stroke_mm in model.travels_mm:
        assert isinstance(can_geometry(model, stroke_mm / 1000), AirCan)
    values = SpecValue.objects.filter(model=model, quantity__in=CAN_GEOMETRY)
    assert {value.source_document for value in values} == {"Demo data, invented; not a real manual"}
    assert {value.quantity for value in values if not value.is_checked} == {"negative_volume"}


@pytest.mark.parametrize(
    ("typed", "leverage"),
    [
        ("2.5", 2.5), ("2,5", 2.5), ("2.5 : 1", 2.5), ("150/60", 2.5), ("150 mm / 60 mm", 2.5), ("6 in / 60 mm", 2.54),
        ("15 cm / 60", 2.5), (" 2.9 ", 2.9),
    ],
)  # fmt: skip
def test_a_leverage_is_read_as_a_ratio_or_as_two_travels(typed: str, leverage: float) -> None:
    assert read_leverage(typed) == pytest.approx(leverage)


@pytest.mark.parametrize("typed", ["two", "150/0", "150/60/2", "/", "150/", "2.5 mm", "10 psi / 4 psi", "-150/-60"])
def test_what_is_no_leverage_is_refused_with_an_example(typed: str) -> None:
    with pytest.raises(UnitError, match=r"such as 2\.5, or wheel travel / stroke such as 150/60"):
        read_leverage(typed)


def test_a_number_with_two_readings_is_asked() -> None:
    with pytest.raises(NumberUnclear, match="could be"):
        read_leverage("2.500")
