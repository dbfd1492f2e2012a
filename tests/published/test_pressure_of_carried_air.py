"""Hose, warmth and height against real air: CoolProp 8, the reference equation of Lemmon et al. 2000.

Ours is an ideal gas. At fork pressures real air differs by less than half a per cent of the absolute pressure here.
"""

import pytest
from CoolProp.CoolProp import PropsSI
from scipy.optimize import brentq

from specs.physics.pressure import after_hose, at_ambient, at_temperature, before_hose

ROOM_K, SEA_LEVEL_PA = 293.15, 101325.0
REAL_AIR = 0.005  # of the absolute pressure


def density(absolute_pa: float, kelvin: float = ROOM_K) -> float:
    return float(PropsSI("D", "P", absolute_pa, "T", kelvin, "Air"))


@pytest.mark.parametrize("gauge_pa", [3e5, 5.6e5, 12e5])
@pytest.mark.parametrize(("chamber_m3", "hose_m3"), [(180e-6, 3e-6), (100e-6, 5e-6), (30e-6, 10e-6)])
def test_the_hose_takes_what_its_mass_of_air_says(gauge_pa: float, chamber_m3: float, hose_m3: float) -> None:
    """The chamber's air and the hose's own, in both together: the pressure at which no gram is lost."""
    grams = density(gauge_pa + SEA_LEVEL_PA) * chamber_m3 + density(SEA_LEVEL_PA) * hose_m3

    def too_much(absolute_pa: float) -> float:
        return density(absolute_pa) * (chamber_m3 + hose_m3) - grams

    shown_pa = brentq(too_much, SEA_LEVEL_PA / 2, gauge_pa + 2 * SEA_LEVEL_PA) - SEA_LEVEL_PA
    off_pa = REAL_AIR * (gauge_pa + SEA_LEVEL_PA)
    assert after_hose(gauge_pa, chamber_m3, hose_m3) == pytest.approx(shown_pa, abs=off_pa)
    back_pa = before_hose(shown_pa, chamber_m3, hose_m3)
    assert back_pa == pytest.approx(gauge_pa, abs=off_pa * (1 + hose_m3 / chamber_m3))


@pytest.mark.parametrize("gauge_pa", [3e5, 5.6e5, 12e5])
@pytest.mark.parametrize("kelvin", [263.15, 278.15, 313.15])
def test_a_closed_chamber_keeps_its_density(gauge_pa: float, kelvin: float) -> None:
    held = density(gauge_pa + SEA_LEVEL_PA)
    real_pa = float(PropsSI("P", "D", held, "T", kelvin, "Air")) - SEA_LEVEL_PA
    assert at_temperature(gauge_pa, ROOM_K, kelvin) == pytest.approx(real_pa, abs=REAL_AIR * (gauge_pa + SEA_LEVEL_PA))


@pytest.mark.parametrize("ambient_pa", [89876.3, 79501.4])  # 1000 m, 2000 m
def test_height_takes_away_what_the_air_outside_lacks(ambient_pa: float) -> None:
    """ISO 2533 ambient pressures; the absolute pressure inside stays, so the gauge gains the difference."""
    inside_pa = 5e5 + SEA_LEVEL_PA
    assert at_ambient(5e5, SEA_LEVEL_PA, ambient_pa) == pytest.approx(inside_pa - ambient_pa)
