"""Sag and set-up: the pressure from the model, beside the rule of thumb, never above the maximum."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy.optimize import brentq

from diagnosis.places import Place
from diagnosis.set_up import MeasuredSag, SetUp, set_up
from specs.lookup import GeometryGap
from specs.physics.air_spring import AirSpring, equalised, force
from specs.physics.errors import ImpossibleValue
from specs.units import show
from tests.physics.springs import SPRING
from workshop.sums.sag import sag_answer

GAP = GeometryGap(missing=("piston_bore", "negative_volume"))
MEASURED = MeasuredSag(sag_m=0.040, pressure_pa=500e3)


def write(magnitude_si: float, dimension: str) -> str:
    units = {"pressure": "kPa", "length": "mm", "temperature": "°C"}
    return show(magnitude_si, dimension, units[dimension])


def ask(spring: AirSpring | GeometryGap = SPRING, **given: object) -> SetUp:
    given = {"travel_m": 0.160, "wanted_sag_m": 0.032, "write": write, "measured": MEASURED} | given
    return set_up(spring, **given)  # type: ignore[arg-type]


def test_the_pressure_gives_the_wanted_sag() -> None:
    """A bracketing solver of SciPy finds the same pressure from the force alone."""
    made = ask()
    load_n = force(SPRING, equalised(SPRING, 500e3), 0.040)
    by_search = brentq(lambda pa: force(SPRING, equalised(SPRING, pa), 0.032) - load_n, 1e4, 3e6)
    assert made.pressure_pa == pytest.approx(by_search, rel=1e-9)
    assert made.load_n == pytest.approx(load_n)
    assert not made.capped


def test_the_rule_of_thumb_stands_beside_it() -> None:
    """Inverse ratio: 500 kPa × 40 / 32 = 625 kPa."""
    made = ask()
    assert made.by_rule_pa == pytest.approx(625e3)
    assert "The rule of thumb says 625 kPa." in made.sentences


def test_wanting_what_was_measured_changes_nothing() -> None:
    made = ask(wanted_sag_m=0.040)
    assert made.pressure_pa == pytest.approx(500e3)
    assert made.by_rule_pa == pytest.approx(500e3)


def test_never_above_the_maximum_and_it_says_so() -> None:
    made = ask(replace(SPRING, max_pressure_pa=550e3), max_pressure_pa=9e9)
    assert made.capped
    assert made.pressure_pa == 550e3
    assert made.rule_capped
    assert made.by_rule_pa == 550e3
    assert made.sag_at_setting_m is not None
    load_n = force(SPRING, equalised(SPRING, 500e3), 0.040)
    sag_m = brentq(lambda x: force(SPRING, equalised(SPRING, 550e3), x) - load_n, 0.001, 0.159)
    assert made.sag_at_setting_m == pytest.approx(sag_m, abs=1e-9)
    assert made.sag_at_setting_m > 0.032
    assert any("never passed" in sentence for sentence in made.sentences)


def test_the_maximum_holds_on_the_mountain_too() -> None:
    """ISO 2533: from sea level to 2000 m the gauge gains 101325 - 79501.4 = 21823.6 Pa."""
    spring = replace(SPRING, max_pressure_pa=550e3)
    made = ask(spring, trail=Place(2000.0))
    assert made.capped
    assert made.at_trail_pa == pytest.approx(550e3)
    assert made.pressure_pa == pytest.approx(550e3 - 21823.6, abs=1)


def test_going_down_the_maximum_holds_in_the_shop() -> None:
    made = ask(replace(SPRING, max_pressure_pa=550e3), shop=Place(2000.0), trail=Place(0.0))
    assert made.pressure_pa == 550e3
    assert made.at_trail_pa is not None
    assert made.at_trail_pa < 550e3


def test_altitude_and_temperature_between_shop_and_trail() -> None:
    """The rule's 625 kPa wanted at 0 °C: (625 + 101.325) × 293.15 / 273.15 - 101.325 = 678.2 kPa at 20 °C."""
    made = ask(trail=Place(0.0, 273.15))
    assert made.by_rule_pa == pytest.approx(678.18e3, abs=20)
    up = ask(trail=Place(2000.0))
    assert up.by_rule_pa == pytest.approx(625e3 - 21823.6, abs=1)


def test_what_is_set_in_the_shop_gives_the_sag_on_the_trail() -> None:
    trail = Place(2000.0, 278.15)
    made = ask(trail=trail)
    assert made.at_trail_pa is not None
    load_n = force(SPRING, equalised(SPRING, 500e3), 0.040)
    state = equalised(SPRING, made.at_trail_pa, ambient_pa=trail.ambient_pa)
    assert force(SPRING, state, 0.032) == pytest.approx(load_n)


def test_a_set_up_below_no_pressure_is_refused() -> None:
    """By the rule 20 kPa × 16 / 60 is 5.3 kPa; ISO 2533 has 21.8 kPa less at 2000 m: below none in the shop."""
    with pytest.raises(ImpossibleValue) as refused:
        ask(GAP, measured=MeasuredSag(0.016, 20e3), wanted_sag_m=0.060, trail=Place(2000.0))
    assert refused.value.field == "wanted_sag_m"


def test_missing_geometry_is_named_and_only_the_rule_given() -> None:
    made = ask(GAP, max_pressure_pa=700e3)
    assert made.pressure_pa is None
    assert made.by_rule_pa == pytest.approx(625e3)
    assert any("air piston bore, negative chamber volume" in sentence for sentence in made.sentences)
    assert made.sentences[0].startswith("By the rule of thumb set 625 kPa")


def test_without_a_known_maximum_there_is_a_warning() -> None:
    made = ask(GAP)
    assert any("maximum pressure is not known" in warning for warning in made.warnings)
    assert not any("maximum pressure is not known" in warning for warning in ask().warnings)


def test_the_rule_is_cut_at_a_known_maximum() -> None:
    made = ask(GAP, max_pressure_pa=600e3)
    assert made.by_rule_pa == 600e3
    assert made.rule_capped


def test_an_assumed_share_stands_in_and_is_said_to_be_one() -> None:
    """80 kg, half of it on the fork, leaning at 65°: 80 × 9.80665 × 0.5 × sin 65° = 355.5 N."""
    made = ask(measured=None, rider_mass_kg=80.0, fork_share=0.5, head_angle_deg=65.0)
    assert made.load_n == pytest.approx(355.51, abs=0.01)
    assert made.by_rule_pa is None
    assert made.pressure_pa is not None
    assert any("an assumption from common practice, no published source" in line for line in made.assumed)


def test_a_measured_sag_goes_before_an_assumed_share() -> None:
    made = ask(rider_mass_kg=80.0, fork_share=0.9)
    assert made.load_n == pytest.approx(force(SPRING, equalised(SPRING, 500e3), 0.040))
    assert not any("an assumption" in line for line in made.assumed)


def test_no_share_is_ever_filled_in() -> None:
    made = ask(measured=None, rider_mass_kg=80.0)
    assert made.pressure_pa is None
    assert made.load_n is None


def test_an_odd_share_of_the_rider_is_doubted() -> None:
    assert any("unusual" in warning for warning in ask(rider_mass_kg=250.0).warnings)
    assert not ask(rider_mass_kg=80.0).warnings


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"wanted_sag_m": 0.0}, "wanted_sag_m"),
        ({"wanted_sag_m": 0.160}, "wanted_sag_m"),
        ({"wanted_sag_m": 0.0001}, "wanted_sag_m"),
        ({"measured": MeasuredSag(0.170, 500e3)}, "measured_sag_m"),
        ({"measured": MeasuredSag(0.0, 500e3)}, "measured_sag_m"),
        ({"measured": MeasuredSag(0.001, 500e3)}, "measured_sag_m"),
        ({"measured": MeasuredSag(0.040, 0.0)}, "measured_pressure_pa"),
        ({"measured": None, "rider_mass_kg": 80.0, "fork_share": 0.0}, "fork_share"),
        ({"measured": None, "rider_mass_kg": 80.0, "fork_share": 0.5, "head_angle_deg": 10.0}, "head_angle_deg"),
    ],
)
def test_what_cannot_be_names_its_field(given: dict[str, object], field: str) -> None:
    spring = replace(SPRING, negative_volume_m3=8e-6, port_travel_m=0.008)
    with pytest.raises(ImpossibleValue) as refused:
        ask(spring, **given)
    assert refused.value.field == field


def test_the_answer_writes_the_numbers_with_where_they_come_from() -> None:
    answer = sag_answer(ask(rider_mass_kg=80.0), travel_m=0.160, max_pressure_pa=12e5, write=write)
    rows = {row.label: (row.value, row.note) for row in answer.rows}
    assert rows["By the rule of thumb"] == ("625 kPa", "common practice, no published source")
    assert rows["The fork’s maximum"] == ("1200 kPa", "never passed")
    assert rows["Wanted sag"][0].startswith("32 mm, 20")
