"""What is known of a model: a travel's own value first, nothing guessed, what is missing said."""

from __future__ import annotations

import pytest
from pytest_django import DjangoAssertNumQueries

from specs.expected import expected_keys
from specs.lookup import GEOMETRY, GeometryGap, choose, current_values, spring_geometry
from specs.models import SuspensionModel
from specs.physics.air_spring import AirSpring
from specs.quantities import QUANTITIES
from tests.factories import ShopFactory, SpecValueFactory, SuspensionModelFactory

pytestmark = pytest.mark.django_db

PSI = 6894.757293168361
A_SPRING = {
    "piston_bore": 0.0322, "air_shaft": 0.009, "damper_shaft": 0.010, "stanchion": 0.035,
    "positive_volume": 192e-6, "negative_volume": 40e-6, "lower_leg_volume": 588e-6,
    "port_travel": 0.0075, "seal_friction": 8.0, "max_pressure": 165 * PSI,
}  # fmt: skip


@pytest.fixture
def model() -> SuspensionModel:
    return SuspensionModelFactory(travels_mm=[140, 150])


def _give(model: SuspensionModel, key: str, magnitude_si: float, **more: object) -> None:
    SpecValueFactory(model=model, quantity=key, magnitude_si=magnitude_si, typed=str(magnitude_si), **more)


def test_a_travels_own_value_goes_before_the_general_one(
    model: SuspensionModel, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    _give(model, "max_pressure", 7e5)
    _give(model, "max_pressure", 6e5, travel_mm=140)
    _give(model, "positive_volume", 2e-4, travel_mm=150)
    with django_assert_num_queries(1):
        at_140 = current_values(model, 140)
    assert {key: value.magnitude_si for key, value in at_140.items()} == {"max_pressure": 6e5}
    assert current_values(model, 150)["max_pressure"].magnitude_si == 7e5
    assert set(current_values(model)) == {"max_pressure"}


def test_old_versions_and_other_models_do_not_count(model: SuspensionModel) -> None:
    _give(model, "max_pressure", 7e5, is_current=False)
    _give(SuspensionModelFactory(), "max_pressure", 7e5)
    assert current_values(model) == {}


def test_a_value_withdrawn_for_one_travel_is_missing_there(model: SuspensionModel) -> None:
    _give(model, "max_pressure", 7e5)
    SpecValueFactory(model=model, travel_mm=140, magnitude_si=None, typed="", withdrawn=True)
    assert "max_pressure" not in current_values(model, 140)
    assert "max_pressure" in current_values(model, 150)


def test_wanted_values_come_in_the_registrys_order_with_the_missing_ones(model: SuspensionModel) -> None:
    _give(model, "axle_torque", 12.0, tolerance_si=1.0)
    axle, sag = choose(current_values(model), ["sag_low", "axle_torque"])
    assert (axle.key, axle.is_checked, sag.key) == ("axle_torque", False, "sag_low")
    assert axle.value is not None
    assert sag.value is None
    assert sag.source == ""


def test_written_in_the_shops_units(model: SuspensionModel) -> None:
    shop = ShopFactory(pressure_unit="bar", torque_unit="in·lbf")
    _give(model, "max_pressure", 8.25e5)
    _give(model, "axle_torque", 12.0, tolerance_si=1.0)
    _give(model, "full_interval_months", 12 * 365.25 * 86400 / 12)
    texts = [
        shown.written(shop.unit_for).text
        for shown in choose(current_values(model), ["max_pressure", "axle_torque", "full_interval_months", "sag_low"])
    ]
    # 12 N·m and 1 N·m by NIST SP 811: 106.2 and 8.85 in·lbf.
    assert texts == ["8.25 bar", "106 in·lbf ±8.9", "%", "12 months"]


def test_builds_the_spring_of_a_travel(
    model: SuspensionModel, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for key, magnitude_si in A_SPRING.items():
        _give(model, key, magnitude_si)
    with django_assert_num_queries(1):
        spring = spring_geometry(model, 0.150)
    assert spring == AirSpring(travel_m=0.150, **{GEOMETRY[key]: value for key, value in A_SPRING.items()})


@pytest.mark.parametrize("left_out", list(A_SPRING))
def test_a_missing_value_is_named_not_guessed(model: SuspensionModel, left_out: str) -> None:
    for key, magnitude_si in A_SPRING.items():
        if key != left_out:
            _give(model, key, magnitude_si)
    gap = spring_geometry(model, 0.150)
    assert gap == GeometryGap((left_out,))
    assert gap.labels == [QUANTITIES[left_out].label]


def test_values_that_contradict_each_other_are_said(model: SuspensionModel) -> None:
    for key, magnitude_si in {**A_SPRING, "air_shaft": 0.034}.items():
        _give(model, key, magnitude_si)
    gap = spring_geometry(model, 0.150)
    assert isinstance(gap, GeometryGap)
    assert gap.reason == "Air shaft diameter: the air shaft is not thinner than the piston bore."


@pytest.mark.parametrize("facts", [{"spring_kind": "coil"}, {"kind": "shock"}])
def test_only_the_air_spring_of_a_fork_is_calculated(facts: dict[str, str]) -> None:
    gap = spring_geometry(SuspensionModelFactory(**facts), 0.150)
    assert isinstance(gap, GeometryGap)
    assert "air spring of a fork" in gap.reason


OF_A_DAMPER = {"gas_charge_pressure", "bleed_pressure"}


def test_a_quantity_that_cannot_be_is_not_expected() -> None:
    nothing_known = {"spring_retention": "", "damper_kind": "", "self_equalising": None}
    of_a_shock = {"damper_body", "shock_bolt_torque_front", "shock_bolt_torque_rear", *OF_A_DAMPER}
    assert set(expected_keys(SuspensionModelFactory(**nothing_known))) == set(QUANTITIES) - of_a_shock
    for fact, value, lacking in (
        ("crowns", "single", "upper_crown_torque"),
        ("ramp_chamber", False, "max_pressure_ramp"),
        ("self_equalising", True, "max_pressure_negative"),
        ("spring_retention", "wire_ring", "seal_head_torque"),
        ("damper_kind", "sealed_cartridge", "oil_level"),
    ):
        assert lacking not in expected_keys(SuspensionModelFactory(**{**nothing_known, fact: value}))
    assert "shock_bolt_torque_rear" in expected_keys(SuspensionModelFactory(shock=True))
    assert not OF_A_DAMPER & {*expected_keys(SuspensionModelFactory(shock=True, reservoir="inline"))}
    assert {*expected_keys(SuspensionModelFactory(shock=True, reservoir="piggyback"))} >= OF_A_DAMPER
    assert "foot_torque_air_leg" not in expected_keys(SuspensionModelFactory(shock=True))
    assert "max_pressure" not in expected_keys(SuspensionModelFactory(spring_kind="coil"))
    assert "foam_ring_size" not in expected_keys(SuspensionModelFactory(foam_rings=False))
    assert "port_travel" not in expected_keys(SuspensionModelFactory(self_equalising=False))
    assert "max_pressure" in expected_keys(SuspensionModelFactory(spring_kind=""))
