"""Viscosity index (ISO 2909 / ASTM D2270), viscosity at a temperature (ASTM D341), ISO 3448 grades, blends."""

import math

import numpy as np
import pytest
from chemicals.viscosity import viscosity_index as chemicals_index

from specs.physics.oil import (
    ISO_VG,
    OilAtTwoTemperatures,
    blend,
    index_basis,
    iso_grade,
    share_of_thicker,
    viscosity_at,
    viscosity_index,
)
from workshop.sums.oils import NamedOil, near_oils

# Computed with chemicals 1.5.2, which implements ASTM D2270; the first row is its documented example.
INDEX = [
    (73.30, 8.86, 92.4296),
    (22.83, 5.05, 156.4235),
    (53.47, 7.80, 111.3070),
    (32.0, 5.4, 102.2127),
    (15.0, 3.8, 151.1317),
    (10.0, 2.7, 108.2396),
    (46.0, 6.8, 101.6085),
    (100.0, 11.1, 95.5708),
]

# ASTM D341, two-term form, by direct evaluation at 0, 20, 60 and 80 °C; the last row with six figures more.
D341 = [
    (73.30, 8.86, (1233.07, 240.981, 30.0826, 15.1804)),
    (22.83, 5.05, (148.625, 50.9830, 12.2803, 7.51616)),
    (15.0, 3.8, (81.7571, 31.0450, 8.54510, 5.46498)),
    (32.0, 5.4, (335.9996, 86.2779, 15.1859, 8.5332)),
]


@pytest.mark.parametrize(("kv40", "kv100", "index"), INDEX)
def test_index_against_chemicals(kv40: float, kv100: float, index: float) -> None:
    """The same table and interpolation, so equal to the digits printed."""
    assert viscosity_index(kv40, kv100) == pytest.approx(index, abs=5e-5)
    assert viscosity_index(kv40, kv100) == pytest.approx(chemicals_index(kv40 * 1e-6, kv100 * 1e-6), abs=1e-9)


def test_index_against_chemicals_over_the_whole_range() -> None:
    """2 to 90 mm²/s at 100 °C: the table, both procedures, and the formulas above 70. Rounding only."""
    for kv100 in np.geomspace(2.0, 90.0, 60):
        for ratio in np.geomspace(1.5, 60.0, 18):  # thick enough for the formula of L to count above 70, too
            ours = viscosity_index(kv100 * ratio, kv100)
            theirs = chemicals_index(kv100 * ratio * 1e-6, kv100 * 1e-6)
            assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-9)


def test_examples_printed_in_astm_d2270() -> None:
    """Sections 5.1.4 and 6.1.4: 92, and 156.37 through rounded steps (allow 0.1 for their rounding)."""
    assert index_basis(8.86) == pytest.approx((119.94, 69.48), abs=0.005)
    assert round(viscosity_index(73.30, 8.86)) == 92
    assert viscosity_index(22.83, 5.05) == pytest.approx(156.37, abs=0.1)


@pytest.mark.parametrize(("kv40", "kv100", "expected"), D341)
def test_viscosity_at_temperature_by_astm_d341(kv40: float, kv100: float, expected: tuple[float, ...]) -> None:
    """To the digits printed: half a unit of the sixth figure is 5e-6 of the value."""
    for temperature_c, viscosity in zip((0.0, 20.0, 60.0, 80.0), expected, strict=True):
        assert viscosity_at(kv40, kv100, temperature_c) == pytest.approx(viscosity, rel=1e-5)


def test_the_terms_of_astm_d341_left_out_do_not_matter_from_two_up() -> None:
    """The full practice has Z = v + 0.7 + exp(-1.47 - 1.84 v - 0.51 v²): at 2 mm²/s that is 1.6e-4 of Z.

    What it would change at 2.1 mm²/s, the lowest a fork oil meets here, is under 0.05 %.
    """

    def full(kv40: float, kv100: float, temperature_c: float) -> float:
        def z(v: float) -> float:
            return v + 0.7 + math.exp(-1.47 - 1.84 * v - 0.51 * v * v)

        def inverse(z_: float) -> float:
            y = z_ - 0.7
            return y - math.exp(-0.7487 - 3.295 * y + 0.6119 * y**2 - 0.3193 * y**3)

        ends = [math.log10(math.log10(z(v))) for v in (kv40, kv100)]
        logs = [math.log10(t + 273.15) for t in (40.0, 100.0, temperature_c)]
        slope = (ends[1] - ends[0]) / (logs[1] - logs[0])
        return inverse(10**10 ** (ends[0] + slope * (logs[2] - logs[0])))

    assert viscosity_at(10.0, 2.7, 119.0) == pytest.approx(2.1, abs=0.05)
    assert viscosity_at(10.0, 2.7, 119.0) == pytest.approx(full(10.0, 2.7, 119.0), rel=5e-4)


def test_iso_3448_grades() -> None:
    """ISO 3448:1992, table 1: the grades up to 150 and their limits of ±10 %."""
    assert list(ISO_VG) == [2.2, 3.2, 4.6, 6.8, 10, 15, 22, 32, 46, 68, 100, 150]
    assert iso_grade(28.8) == iso_grade(35.2) == 32
    assert iso_grade(35.3) is None


def test_a_blend_against_another_published_method() -> None:
    """ASTM D7152 (volume, constant temperature) beside Refutas (Maples, Petroleum Refinery Process Economics, 2000).

    VBI = 14.534 ln ln(v + 0.8) + 10.975 averages by mass; alike densities make mass and volume shares one. Two
    empirical rules of one family: they agree within 1 % for fork oils, far inside what either promises.
    """

    def refutas(parts: list[tuple[float, float]]) -> float:
        index = sum(share * (14.534 * math.log(math.log(v + 0.8)) + 10.975) for v, share in parts)
        return math.exp(math.exp((index - 10.975) / 14.534)) - 0.8

    for share in (0.1, 0.25, 0.5, 0.75, 0.9):
        mixed = blend([(OilAtTwoTemperatures(15.0, 3.8), 1 - share), (OilAtTwoTemperatures(46.0, 6.8), share)])
        assert mixed.kv40_mm2_s == pytest.approx(refutas([(15.0, 1 - share), (46.0, share)]), rel=0.01)
        assert mixed.kv100_mm2_s == pytest.approx(refutas([(3.8, 1 - share), (6.8, share)]), rel=0.01)


@pytest.mark.parametrize("wanted", [18.0, 25.0, 40.0])
def test_the_share_for_a_wanted_viscosity_by_another_published_method(wanted: float) -> None:
    """Refutas again (Maples 2000), its index mixed in proportion and solved for the share: within 2 % of the whole."""

    def index(v: float) -> float:
        return 14.534 * math.log(math.log(v + 0.8)) + 10.975

    expected = (index(wanted) - index(15.0)) / (index(46.0) - index(15.0))
    found = share_of_thicker(OilAtTwoTemperatures(15.0, 3.8), OilAtTwoTemperatures(46.0, 6.8), wanted)
    assert found == pytest.approx(expected, abs=0.02)


def test_the_nearest_stand_in_is_the_nearest_at_the_working_temperature() -> None:
    """ASTM D341 by direct evaluation at 20 °C: wanted 15.0/3.8 is 31.0450 there; 22.83/5.05 is 50.9830."""
    wanted = OilAtTwoTemperatures(15.0, 3.8)
    # Alike at 40 °C but far at 0 °C, and the other way round.
    candidates = {"steep": (15.1, 2.9), "flat": (16.0, 4.0)}
    cold = {key: viscosity_at(*oil, 0.0) for key, oil in candidates.items()}
    nearest = min(cold, key=lambda key: abs(cold[key] / 81.7571 - 1))
    found = near_oils(wanted, [NamedOil(key, *oil) for key, oil in candidates.items()], 0.0)
    assert found[0].named.name == nearest == "flat"
    (thicker,) = near_oils(wanted, [NamedOil("thick", 22.83, 5.05)], 20.0)
    assert thicker.at_temperature_share == pytest.approx(50.9830 / 31.0450 - 1, abs=1e-4)
    assert thicker.kv40_share == pytest.approx(22.83 / 15.0 - 1)
