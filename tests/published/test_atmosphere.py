"""The standard atmosphere: ISO 2533 / US Standard Atmosphere 1976."""

import ambiance
import fluids
import numpy as np
import pytest

from specs.physics.atmosphere import EARTH_RADIUS_M, pressure_at_altitude

# Geometric altitude, Pa: fluids 1.3.1 ATMOSPHERE_1976 and ambiance 1.3.1, which agree to 0.1 Pa.
GEOMETRIC = [
    (0.0, 101325.0),
    (500.0, 95461.3),
    (1000.0, 89876.3),
    (1500.0, 84559.7),
    (2000.0, 79501.4),
    (2500.0, 74691.8),
    (3000.0, 70121.2),
]
# Geopotential altitude, Pa: the standard's own formula.
GEOPOTENTIAL = [
    (500.0, 95460.8),
    (1000.0, 89874.6),
    (1500.0, 84556.0),
    (2000.0, 79495.2),
    (2500.0, 74682.5),
    (3000.0, 70108.5),
]


@pytest.mark.parametrize(("altitude_m", "pressure_pa"), GEOMETRIC)
def test_against_the_table_by_geometric_altitude(altitude_m: float, pressure_pa: float) -> None:
    """Printed to 0.1 Pa; the gas constant's last digits make another 0.1."""
    assert pressure_at_altitude(altitude_m) == pytest.approx(pressure_pa, abs=0.15)


@pytest.mark.parametrize(("geopotential_m", "pressure_pa"), GEOPOTENTIAL)
def test_against_the_table_by_geopotential_altitude(geopotential_m: float, pressure_pa: float) -> None:
    """Converted to the geometric altitude that maps give, h = r H / (r - H)."""
    altitude_m = EARTH_RADIUS_M * geopotential_m / (EARTH_RADIUS_M - geopotential_m)
    assert pressure_at_altitude(altitude_m) == pytest.approx(pressure_pa, abs=0.15)


def test_against_two_libraries_over_the_whole_range() -> None:
    """Their constants differ from the standard's in the seventh digit: 5e-6 is 0.5 Pa, a height of 4 cm."""
    altitudes_m = np.linspace(-500.0, 5000.0, 56)
    theirs = ambiance.Atmosphere(altitudes_m).pressure
    for altitude_m, ambiance_pa in zip(altitudes_m.tolist(), theirs.tolist(), strict=True):
        ours = pressure_at_altitude(altitude_m)
        assert ours == pytest.approx(ambiance_pa, rel=5e-6)
        assert ours == pytest.approx(fluids.ATMOSPHERE_1976(altitude_m).P, rel=5e-6)
