import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.oil import (
    OilAtTwoTemperatures,
    blend,
    iso_grade,
    share_of_thicker,
    viscosity_at,
    viscosity_index,
)

LIGHT, HEAVY = OilAtTwoTemperatures(15.0, 3.8), OilAtTwoTemperatures(46.0, 6.8)


def test_an_oil_knows_its_index_and_its_viscosity() -> None:
    assert LIGHT.viscosity_index == viscosity_index(15.0, 3.8)
    assert LIGHT.viscosity_at(40.0) == pytest.approx(15.0)
    assert LIGHT.viscosity_at(100.0) == pytest.approx(3.8)


@given(st.floats(2.5, 12.0), st.floats(2.2, 9.0), st.floats(-10.0, 99.0))
def test_oil_thins_as_it_warms(kv100: float, ratio: float, temperature_c: float) -> None:
    kv40 = kv100 * ratio
    assert viscosity_at(kv40, kv100, temperature_c) > viscosity_at(kv40, kv100, temperature_c + 1.0)


@given(st.floats(2.0, 60.0), st.floats(1.5, 12.0))
def test_of_two_oils_alike_when_hot_the_thinner_when_warm_has_the_higher_index(kv100: float, ratio: float) -> None:
    assert viscosity_index(kv100 * ratio, kv100) > viscosity_index(kv100 * ratio * 1.02, kv100)


@pytest.mark.parametrize(
    ("kv40", "kv100", "at_fault"),
    [
        (15.0, 1.99, "kv100_mm2_s"),
        (15.0, -3.0, "kv100_mm2_s"),
        (0.0, 3.8, "kv40_mm2_s"),
        (3.8, 15.0, "kv40_mm2_s"),
        (math.inf, 3.8, "kv40_mm2_s"),
        (3e7, 3.8, "kv40_mm2_s"),
    ],
)
def test_impossible_oils_name_the_field(kv40: float, kv100: float, at_fault: str) -> None:
    for build in (OilAtTwoTemperatures, viscosity_index, lambda a, b: viscosity_at(a, b, 20.0)):
        with pytest.raises(ValueError, match=f"^{at_fault}: "):
            build(kv40, kv100)


@pytest.mark.parametrize("temperature_c", [150.0, -120.0, -300.0, math.nan])
def test_beyond_the_range_of_the_equation_it_refuses(temperature_c: float) -> None:
    """Hot, a 3.8 mm²/s oil drops under 2; far below freezing it passes 20 million."""
    with pytest.raises(ValueError, match=r"^temperature_c: "):
        viscosity_at(15.0, 3.8, temperature_c)


def test_a_blend_lies_between_its_parts() -> None:
    mixed = blend([(LIGHT, 60.0), (HEAVY, 40.0)])
    assert LIGHT.kv40_mm2_s < mixed.kv40_mm2_s < HEAVY.kv40_mm2_s
    assert LIGHT.kv100_mm2_s < mixed.kv100_mm2_s < HEAVY.kv100_mm2_s
    assert mixed.kv40_mm2_s < 0.6 * 15.0 + 0.4 * 46.0  # the thin part counts for more than its share


def test_blending_an_oil_with_itself_changes_nothing() -> None:
    mixed = blend([(LIGHT, 30.0), (LIGHT, 120.0)])
    assert (mixed.kv40_mm2_s, mixed.kv100_mm2_s) == pytest.approx((15.0, 3.8))


@given(st.floats(0.0, 1.0))
def test_the_share_for_a_wanted_viscosity_undoes_the_blend(share: float) -> None:
    mixed = blend([(LIGHT, 1 - share), (HEAVY, share)])
    kv40 = min(max(mixed.kv40_mm2_s, 15.0), 46.0)
    assert share_of_thicker(LIGHT, HEAVY, kv40) == pytest.approx(share, abs=1e-9)


def test_blends_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match=r"^parts: "):
        blend([])
    with pytest.raises(ValueError, match=r"^volume: "):
        blend([(LIGHT, 0.0), (HEAVY, 0.0)])
    with pytest.raises(ValueError, match=r"^volume: "):
        blend([(LIGHT, -1.0), (HEAVY, 2.0)])
    with pytest.raises(ValueError, match=r"^wanted_kv40_mm2_s: no mixture"):
        share_of_thicker(LIGHT, HEAVY, 50.0)
    with pytest.raises(ValueError, match=r"^thick: "):
        share_of_thicker(HEAVY, LIGHT, 20.0)


def test_iso_grades_leave_gaps() -> None:
    assert iso_grade(15.9) == 15.0
    assert iso_grade(29.0) == 32.0
    assert iso_grade(27.0) is None
