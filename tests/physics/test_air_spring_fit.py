import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.air_spring import ContradictoryReading, equalised, fit_chamber_length, pressures_at
from tests.physics.springs import SPRING, changed

LENGTH_M = SPRING.positive_volume_m3 / SPRING.piston_area_m2
TRAVELS_M = (0.005, 0.04, 0.08, 0.12, 0.15)


def readings(noise_pa: float = 0.0, seed: int = 1) -> list[tuple[float, float]]:
    draw = np.random.default_rng(seed)
    state = equalised(SPRING, 5e5)
    return [(x, pressures_at(SPRING, state, x).positive_pa + noise_pa * draw.standard_normal()) for x in TRAVELS_M]


def test_exact_readings_give_the_geometry_back() -> None:
    fit = fit_chamber_length(readings())
    assert fit.length_m.mid == pytest.approx(LENGTH_M, rel=1e-9)
    assert fit.length_m.high - fit.length_m.low < 1e-9
    assert fit.residual_pa < 1e-3
    assert fit.positive_volume_m3(SPRING.piston_area_m2).mid == pytest.approx(180e-6)


def test_three_readings_are_enough_but_tell_less_than_five() -> None:
    def typical_width_m(every: int) -> float:
        fits = [fit_chamber_length(readings(2000.0, seed)[::every]) for seed in range(50)]
        assert {fit.readings for fit in fits} == {len(TRAVELS_M[::every])}
        return float(np.median([fit.length_m.high - fit.length_m.low for fit in fits]))

    assert typical_width_m(2) > 2 * typical_width_m(1)


def test_a_poor_fit_shows_in_the_residual_and_the_interval() -> None:
    fit = fit_chamber_length([(0.0, 1e5), (0.05, 1e5), (0.10, 90e5)])
    assert fit.residual_pa > 5e4
    assert fit.length_m.low < 0.10 < fit.length_m.high


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """2000 fits with a pump good to 2 kPa: 90 % intervals, give or take four standard errors (2.7 %)."""
    held = 0
    for seed in range(2000):
        length_m = fit_chamber_length(readings(2000.0, seed), confidence=0.9).length_m
        held += length_m.contains(LENGTH_M)
    assert held / 2000 == pytest.approx(0.9, abs=0.027)


@given(st.floats(1e5, 12e5), st.floats(1.15, 2.0), st.floats(55_000.0, 105_000.0))
def test_any_chamber_is_found_again(pressure_pa: float, filling: float, ambient_pa: float) -> None:
    spring = changed(positive_volume_m3=SPRING.piston_area_m2 * SPRING.travel_m * filling)
    state = equalised(spring, pressure_pa, ambient_pa=ambient_pa)
    pairs = [(x, pressures_at(spring, state, x).positive_pa) for x in TRAVELS_M]
    fit = fit_chamber_length(pairs, ambient_pa=ambient_pa)
    assert fit.length_m.mid == pytest.approx(SPRING.travel_m * filling, rel=1e-8)


@given(
    st.lists(st.floats(0.0, 0.16), min_size=3, max_size=6, unique_by=lambda x: round(x, 3)),
    st.lists(st.floats(1e3, 2e6), min_size=6, max_size=6),
)
def test_whatever_is_typed_it_fits_or_says_why_not(travels_m: list[float], readings_pa: list[float]) -> None:
    try:
        fit = fit_chamber_length(list(zip(travels_m, readings_pa, strict=False)))
    except ContradictoryReading:
        return
    assert fit.length_m.low <= fit.length_m.mid <= fit.length_m.high < np.inf
    assert fit.length_m.mid > max(travels_m)


def test_two_readings_are_too_few() -> None:
    with pytest.raises(ValueError, match=r"^readings: 2 readings are too few"):
        fit_chamber_length(readings()[:2])


def test_one_travel_is_no_curve() -> None:
    with pytest.raises(ValueError, match=r"^readings: all readings are at one travel"):
        fit_chamber_length([(0.05, 5e5), (0.05, 5.1e5), (0.05, 4.9e5)])


@pytest.mark.parametrize(
    "pairs",
    [
        [(0.0, 7e5), (0.05, 6e5), (0.10, 5e5)],  # swapped: falls with travel
        [(0.0, 5e5), (0.05, 5e5), (0.10, 5e5)],  # the chambers met in between
    ],
)
def test_readings_no_chamber_gives_are_a_contradiction(pairs: list[tuple[float, float]]) -> None:
    with pytest.raises(ContradictoryReading, match=r"^readings: the pressures do not rise") as caught:
        fit_chamber_length(pairs)
    assert caught.value.likely_slip.endswith("?")


@pytest.mark.parametrize(
    ("pairs", "arguments", "at_fault"),
    [
        ([(-0.001, 5e5), (0.05, 6e5), (0.1, 7e5)], {}, "travel_m"),
        ([(0.0, -2e5), (0.05, 6e5), (0.1, 7e5)], {}, "reading_pa"),
        ([(0.0, 5e5), (0.05, 6e5), (0.1, 7e5)], {"confidence": 1.0}, "confidence"),
        ([(0.0, 5e5), (0.05, 6e5), (0.1, 7e5)], {"ambient_pa": 0.0}, "ambient_pa"),
    ],
)
def test_impossible_values_name_the_field(
    pairs: list[tuple[float, float]], arguments: dict[str, float], at_fault: str
) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        fit_chamber_length(pairs, **arguments)
