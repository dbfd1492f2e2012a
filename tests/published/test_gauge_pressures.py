"""Gauge pressures by counting the gas: CoolProp's dry air, dense as the reference equation has it (Lemmon et al. 2000).

Air is no ideal gas at these pressures, but near enough: each tolerance is what that costs.
"""

import pytest
from CoolProp.CoolProp import PropsSI

from specs.physics.pressure import absolute, after_hose, at_ambient, at_temperature, gauge

AMBIENT, ROOM_K = 101325.0, 293.15
PSI = 6894.757293168361  # NIST SP 811, appendix B.8


def mass_kg(gauge_pa: float, volume_m3: float, kelvin: float = ROOM_K, ambient_pa: float = AMBIENT) -> float:
    """What is in a chamber."""
    return float(PropsSI("D", "P", gauge_pa + ambient_pa, "T", kelvin, "Air")) * volume_m3


def gauge_pa(mass: float, volume_m3: float, kelvin: float = ROOM_K, ambient_pa: float = AMBIENT) -> float:
    """What a gauge shows of it."""
    return float(PropsSI("P", "D", mass / volume_m3, "T", kelvin, "Air")) - ambient_pa


@pytest.mark.parametrize("before", [80 * PSI, 200 * PSI])
@pytest.mark.parametrize(("chamber", "hose"), [(100e-6, 3e-6), (205e-6, 5e-6), (30e-6, 10e-6)])
def test_the_hose_takes_its_share(before: float, chamber: float, hose: float) -> None:
    """The chamber's gas and the hose's at ambient, put together: to 0.2 % of the pressure."""
    together = gauge_pa(mass_kg(before, chamber) + mass_kg(0.0, hose), chamber + hose)
    assert after_hose(before, chamber, hose) == pytest.approx(together, rel=2e-3)


def test_a_small_can_on_a_short_hose() -> None:
    """100 ml at 200 psi on 3 ml of hose shows 194 psi and has lost nothing."""
    assert after_hose(200 * PSI, 100e-6, 3e-6) / PSI == pytest.approx(194, abs=0.5)


@pytest.mark.parametrize(("from_k", "to_k"), [(293.15, 263.15), (278.15, 308.15)])
@pytest.mark.parametrize("before", [60 * PSI, 150 * PSI])
def test_another_temperature(from_k: float, to_k: float, before: float) -> None:
    """The same gas in the same chamber: to 0.4 % of the pressure."""
    kept = mass_kg(before, 1e-4, from_k)
    assert at_temperature(before, from_k, to_k) == pytest.approx(gauge_pa(kept, 1e-4, to_k), rel=4e-3)


def test_another_altitude() -> None:
    """A closed chamber carried up to 84,560 Pa reads more by what the air around weighs less."""
    kept = mass_kg(80 * PSI, 1e-4)
    up = gauge_pa(kept, 1e-4, ambient_pa=84559.7)
    assert at_ambient(80 * PSI, AMBIENT, 84559.7) == pytest.approx(up, rel=1e-9)
    assert absolute(80 * PSI, 84559.7) == pytest.approx(80 * PSI + 84559.7)
    assert gauge(absolute(80 * PSI, 84559.7), 84559.7) == pytest.approx(80 * PSI)
