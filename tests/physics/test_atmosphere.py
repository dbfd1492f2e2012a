import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.atmosphere import pressure_at_altitude


def test_sea_level_is_the_standard_pressure() -> None:
    assert pressure_at_altitude(0.0) == 101325.0


@given(st.floats(-500.0, 4999.0))
def test_higher_is_thinner(altitude_m: float) -> None:
    assert pressure_at_altitude(altitude_m + 1.0) < pressure_at_altitude(altitude_m)


@pytest.mark.parametrize("altitude_m", [-501.0, 5001.0, math.nan])
def test_outside_its_range_it_refuses(altitude_m: float) -> None:
    with pytest.raises(ValueError, match=r"^altitude_m: "):
        pressure_at_altitude(altitude_m)
