import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from specs.physics.air_spring import (
    AirSpring,
    equalised,
    load_at_sag,
    pressure_for_sag,
    pressure_for_sag_by_rule,
    rest_band,
)
from tests.physics.springs import SPRING, ambients_pa, changed, pressures_pa, springs


def test_pressure_from_a_measured_sag_to_a_wanted_one() -> None:
    load_n = load_at_sag(SPRING, 5e5, 0.050)
    firmer_pa = pressure_for_sag(SPRING, load_n, 0.032)
    assert firmer_pa > 5e5
    assert rest_band(SPRING, equalised(SPRING, firmer_pa), load_n).mid == pytest.approx(0.032)


@given(springs(), pressures_pa, st.floats(50.0, 1500.0), ambients_pa)
def test_pressure_for_sag_undoes_rest(spring: AirSpring, pressure: float, load: float, ambient: float) -> None:
    sag_m = rest_band(spring, equalised(spring, pressure, ambient_pa=ambient), load).mid
    assume(spring.port_travel_m + 0.002 < sag_m < spring.travel_m)
    assert pressure_for_sag(spring, load, sag_m, ambient_pa=ambient) == pytest.approx(pressure, rel=1e-6)


def test_near_full_extension_pressure_holds_no_load() -> None:
    spring = changed(port_travel_m=0.02)
    with pytest.raises(ValueError, match=r"^sag_m: no pressure"):
        pressure_for_sag(spring, 300.0, 0.001)


def test_a_load_too_light_for_the_sag_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^load_n: the load sags less"):
        pressure_for_sag(SPRING, 10.0, 0.12)


@pytest.mark.parametrize(
    ("arguments", "at_fault"),
    [
        ({"sag_m": 0.161}, "sag_m"),
        ({"sag_m": -0.001}, "sag_m"),
        ({"load_n": float("nan")}, "load_n"),
        ({"ambient_pa": -1.0}, "ambient_pa"),
    ],
)
def test_impossible_values_name_the_field(arguments: dict[str, float], at_fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        pressure_for_sag(SPRING, **{"load_n": 600.0, "sag_m": 0.04, **arguments})


def test_the_rule_of_thumb_goes_in_inverse_ratio() -> None:
    assert pressure_for_sag_by_rule(5e5, 0.05, 0.04) == pytest.approx(6.25e5)
    with pytest.raises(ValueError, match=r"^wanted_sag_m: "):
        pressure_for_sag_by_rule(5e5, 0.05, 0.0)
