"""What a shock's sag says at the bench. The numbers are worked out by hand beside the tests, from Boyle's law."""

from __future__ import annotations

import math

import pytest

from diagnosis.shock_sag import Leverage, ShockRead, shock_sag_evidence
from specs.lookup import GeometryGap
from specs.physics.air_can import AirCan
from specs.units import show

PSI = 6894.757293168361
CAN = AirCan(0.060, 0.046, 0.038, 150e-6, 40e-6, 0.004, 300 * PSI)
KNOWN = Leverage(2.5, "2.50: measured on this bike")
UNITS = {"pressure": "psi", "length": "mm", "force": "N", "mass": "kg", "fraction": "%"}


def write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, UNITS[dimension])


def said(
    sag_m: float, *, leverage: Leverage = KNOWN, can: AirCan | GeometryGap | None = CAN, psi: float | None = 120,
    mass_kg: float | None = 80.0,
) -> list[str]:  # fmt: skip
    read = ShockRead(sag_m, 0.060, None if psi is None else psi * PSI, (0.015, 0.018), mass_kg)
    found = shock_sag_evidence(read, leverage=leverage, can=can, can_words="By the manual.", write=write)
    return [f"{one.standing} {one.word} {one.text} {one.yardstick}" for one in found]


def carried_n(psi: float, sag_m: float) -> float:
    """The can's force by hand: each chamber from the port (Boyle), areas from diameters, the air around on the body."""
    bore, body = math.pi / 4 * 0.046**2, math.pi / 4 * 0.038**2
    held = psi * PSI + 101325.0
    positive = held * (150e-6 - bore * 0.004) / (150e-6 - bore * sag_m)
    negative = held * (40e-6 + (bore - body) * 0.004) / (40e-6 + (bore - body) * sag_m)
    return positive * bore - negative * (bore - body) - 101325.0 * body


def test_the_sag_is_told_at_the_wheel_with_its_leverage() -> None:
    at_wheel = said(0.016)[0]
    assert "fits At the wheel: 40 mm of 150 mm, for 16 mm at the shock." in at_wheel
    assert "Leverage 2.50: measured on this bike" in at_wheel


def test_without_a_leverage_nothing_is_told_of_the_wheel() -> None:
    first, of_can = said(0.016, leverage=Leverage(None, "Not on record."))
    assert first.startswith("unsure At the wheel: not known. Not on record.")
    assert "at the wheel" not in of_can


def test_what_the_can_carries_and_the_pressures_for_the_range() -> None:
    of_can = said(0.016)[1]
    load_n = carried_n(120, 0.016)
    assert f"the can carries {load_n:.0f} N where it stands, 16 mm in: {load_n / 2.5:.0f} N at the wheel" in of_can
    assert f"That is {load_n / 2.5 / (80 * 9.80665) * 100:.0f} %" in of_can.replace("\N{NO-BREAK SPACE}", " ")
    firmer, softer = (float(part.split(" psi")[0]) for part in of_can.split(" of sag takes ")[1:])
    assert carried_n(firmer, 0.015) == pytest.approx(load_n, rel=0.01)
    assert carried_n(softer, 0.018) == pytest.approx(load_n, rel=0.01)
    assert "Never above the maximum, 300 psi." in of_can


def test_a_pressure_above_the_maximum_is_never_told() -> None:
    of_can = said(0.018, psi=299, mass_kg=None)[1]
    assert "15 mm of sag: it takes more than the can’s maximum pressure" in of_can


def test_a_sag_read_at_the_wheel_is_named() -> None:
    first = said(0.042)[0]
    assert "off Was it measured at the wheel? 42 mm at the wheel is 16.8 mm at the shock." in first


@pytest.mark.parametrize(
    ("mass_kg", "slip"),
    [(40.0, "Too much for a rear wheel: was the sag measured at the wheel"), (200.0, "Too little for a rear wheel")],
)
def test_what_no_rear_wheel_carries_names_the_likely_slip(mass_kg: float, slip: str) -> None:
    of_can = said(0.016, mass_kg=mass_kg)[1]
    assert of_can.startswith("off These do not fit together.")
    assert slip in of_can
    assert "common practice, no published source" in of_can
    assert "takes" not in of_can


def test_missing_values_are_named_and_a_coil_has_no_can() -> None:
    gap = said(0.016, can=GeometryGap(("damper_body", "negative_volume")))[1]
    assert "Missing from the specs: damper body inside the air can, negative chamber volume, extended." in gap
    assert "was not read at a proof" in said(0.016, psi=None)[1]
    assert len(said(0.016, can=None)) == 1


def test_readings_that_carry_nothing_are_refused_as_a_pair() -> None:
    stiff = AirCan(0.060, 0.046, 0.020, 150e-6, 10e-6, 0.020, 300 * PSI)
    assert "off These do not fit together. At 120 psi this can carries nothing 1 mm in." in said(0.001, can=stiff)[1]
