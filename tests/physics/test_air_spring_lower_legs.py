import pytest

from specs.physics.air_spring import (
    bled,
    equalised,
    force,
    lower_leg_absolute_pressure,
    lower_leg_effect,
    pressures_at,
    stuck,
)
from specs.physics.atmosphere import pressure_at_altitude
from tests.physics.springs import SPRING, rest_shift_m


def test_legs_closed_in_the_valley_push_the_fork_out_on_the_mountain() -> None:
    valley_pa, mountain_pa = pressure_at_altitude(400.0), pressure_at_altitude(2200.0)
    effect = lower_leg_effect(SPRING, 5.5e5, closed_ambient_pa=valley_pa, ambient_pa=mountain_pa)
    assert effect.lower_leg_pa == pytest.approx(valley_pa - mountain_pa)
    assert effect.force_at_top_out_n == pytest.approx((valley_pa - mountain_pa) * SPRING.lower_leg_area_m2)
    assert effect.force_at_top_out_n > 30.0
    assert effect.rest_before.mid <= effect.rest_after_bleeding.mid
    assert rest_shift_m(effect) <= 0.0


def test_legs_closed_on_the_mountain_hold_the_fork_down_in_the_valley() -> None:
    effect = lower_leg_effect(SPRING, 5.5e5, closed_ambient_pa=78_000.0, ambient_pa=98_000.0)
    assert effect.force_at_top_out_n < 0.0
    assert rest_shift_m(effect) > 0.001


def test_cold_legs_hold_down_too() -> None:
    effect = lower_leg_effect(SPRING, 5.5e5, closed_ambient_pa=1e5, ambient_pa=1e5, closed_k=293.15, now_k=268.15)
    assert effect.lower_leg_pa == pytest.approx(1e5 * (268.15 / 293.15 - 1))
    assert rest_shift_m(effect) > 0.0


def test_under_load_the_shift_is_of_the_sag() -> None:
    effect = lower_leg_effect(SPRING, 5.5e5, closed_ambient_pa=1e5, ambient_pa=8e4, load_n=600.0)
    assert -0.010 < rest_shift_m(effect) < 0.0


@pytest.mark.parametrize("exponent", [1.0, 1.3])
def test_bleeding_puts_the_legs_at_ambient_where_it_is_done(exponent: float) -> None:
    state = stuck(SPRING, 5.5e5, 0.3, exponent=exponent, lower_leg_pa=120_000.0)
    for travel_m in (0.0, 0.06):
        after = bled(SPRING, state, travel_m)
        assert pressures_at(SPRING, after, travel_m).lower_leg_pa == pytest.approx(0.0, abs=1e-6)


def test_legs_closed_part_way_down_leave_a_vacuum_at_full_extension() -> None:
    low_pa = lower_leg_absolute_pressure(SPRING, 101325.0, closed_travel_m=0.06)
    assert low_pa == pytest.approx(101325.0 * SPRING.lower_leg_volume_at(0.06) / SPRING.lower_leg_volume_m3)
    at_ambient = equalised(SPRING, 5.5e5)
    assert force(SPRING, bled(SPRING, at_ambient, 0.06), 0.0) < force(SPRING, bled(SPRING, at_ambient), 0.0)


@pytest.mark.parametrize(
    ("arguments", "at_fault"),
    [
        ({"closed_ambient_pa": 0.0}, "closed_ambient_pa"),
        ({"closed_travel_m": 0.2}, "closed_travel_m"),
        ({"closed_k": 0.0}, "closed_k"),
        ({"now_k": -5.0}, "now_k"),
        ({"ambient_pa": -1.0}, "ambient_pa"),
    ],
)
def test_impossible_values_name_the_field(arguments: dict[str, float], at_fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        lower_leg_effect(SPRING, 5.5e5, **{"closed_ambient_pa": 1e5, "ambient_pa": 1e5, **arguments})
