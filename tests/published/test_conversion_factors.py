"""Unit factors: NIST SP 811 appendix B (exact where the definition is), pint and scipy.constants beside it."""

import pytest
from scipy import constants

from specs.units import from_si, parse, to_si

# What is typed, dimension, SI value by NIST SP 811. Half a unit of the last printed digit is 5e-10 of the value.
NIST = [
    ("1 lbf·in", "torque", 0.1129848290),
    ("1 lbf·ft", "torque", 1.355817948),
    ("1 kgf·cm", "torque", 0.0980665),
    ("1 psi", "pressure", 6894.757293),
    ("1 bar", "pressure", 100_000.0),
    ("1 kPa", "pressure", 1000.0),
    ("1 kgf/cm²", "pressure", 98066.5),
    ("1 atm", "pressure", 101325.0),
    ("1 fl oz", "volume", 29.57352956e-6),
    ("1 imp fl oz", "volume", 28.4130625e-6),
    ("1 in", "length", 0.0254),
    ("1 lbf", "force", 4.448221615),
    ("1 lb", "mass", 0.45359237),
    ("32 °F", "temperature", 273.15),
    ("20 °C", "temperature", 293.15),
]


@pytest.mark.parametrize(("typed", "dimension", "si"), NIST)
def test_against_nist_sp_811(typed: str, dimension: str, si: float) -> None:
    assert parse(typed, dimension, default_unit="") == pytest.approx(si, rel=1e-9)


def test_against_scipy_constants() -> None:
    """CODATA's conversion factors as SciPy carries them: double precision."""
    assert to_si(1.0, "pressure", "psi") == pytest.approx(constants.psi, rel=1e-12)
    assert to_si(1.0, "pressure", "bar") == pytest.approx(constants.bar, rel=1e-12)
    assert to_si(1.0, "volume", "fl oz") == pytest.approx(constants.fluid_ounce_US, rel=1e-12)
    assert to_si(1.0, "length", "in") == pytest.approx(constants.inch, rel=1e-12)
    assert to_si(1.0, "force", "lbf") == pytest.approx(constants.lbf, rel=1e-12)
    assert to_si(1.0, "force", "kgf") == pytest.approx(constants.kgf, rel=1e-12)
    assert to_si(1.0, "mass", "lb") == pytest.approx(constants.lb, rel=1e-12)
    assert to_si(1.0, "torque", "in·lbf") == pytest.approx(constants.lbf * constants.inch, rel=1e-12)
    assert to_si(1.0, "torque", "ft·lbf") == pytest.approx(constants.lbf * constants.foot, rel=1e-12)


def test_the_same_pressure_in_three_units() -> None:
    """82 psi by the exact pound and inch: 565.37 kPa, 5.6537 bar."""
    pressure_pa = parse("82 psi", "pressure", "psi")
    assert from_si(pressure_pa, "pressure", "bar") == pytest.approx(5.6537, abs=5e-5)
    assert from_si(pressure_pa, "pressure", "kPa") == pytest.approx(565.37, abs=5e-3)


def test_shown_in_fahrenheit() -> None:
    """NIST SP 811, appendix B.8: t/°F = 1.8 t/°C + 32."""
    assert from_si(293.15, "temperature", "°F") == pytest.approx(68.0)
    assert from_si(293.15, "temperature", "°C") == pytest.approx(20.0)
