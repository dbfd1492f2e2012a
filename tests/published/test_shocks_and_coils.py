"""Shocks and coils against parts from outside: energies that SciPy integrates, and roots and turns that it finds.

The free body is written out here from diameters, not with the modules' own areas: the gas of each chamber does p dV at
constant amount and temperature (isothermal ideal gas), the air around does its own, and the force along the shock is
how that energy changes with travel. A coil stores rate x squeeze² / 2. A linkage does the same work at both ends.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.constants import kilogram_force
from scipy.integrate import quad
from scipy.optimize import brentq

from specs.physics.air_can import AirCan, can_force, can_pressure_for_sag
from specs.physics.coil import CoilSpring, coil_preload_for_sag, coil_rate_for_sag, coil_sag
from specs.physics.errors import ContradictoryReading, ImpossibleValue
from specs.physics.leverage import (
    leverage_of,
    load_at_wheel,
    load_on_shock,
    possible_leverage,
    share_of_mass,
    shock_travel,
    wheel_load,
    wheel_travel,
)
from specs.physics.pressure import after_hose

PSI = 6894.757293168361
AMBIENT = 101325.0
CAN = AirCan(
    stroke_m=0.055, bore_m=0.044, body_m=0.036, positive_volume_m3=1.25e-4, negative_volume_m3=1.4e-5,
    port_travel_m=0.006, max_pressure_pa=300 * PSI,
)  # fmt: skip


def energy(pressure_pa: float, travel_m: float) -> float:
    """What it took (J) to push the shock in from the port: the gas of both chambers, less what the air around did."""
    bore, body, port = 0.044, 0.036, 0.006

    def positive_m3(at: float) -> float:
        return 1.25e-4 - math.pi * bore**2 / 4 * at

    def negative_m3(at: float) -> float:
        return 1.4e-5 + math.pi * (bore**2 - body**2) / 4 * at

    held = pressure_pa + AMBIENT
    squeezed, _ = quad(lambda v: -held * positive_m3(port) / v, positive_m3(port), positive_m3(travel_m))
    drawn, _ = quad(lambda v: -held * negative_m3(port) / v, negative_m3(port), negative_m3(travel_m))
    around = AMBIENT * math.pi * body**2 / 4 * (travel_m - port)
    return float(squeezed + drawn - around)


@pytest.mark.parametrize("pressure_psi", [60, 180, 280])
@pytest.mark.parametrize("travel_m", [0.002, 0.006, 0.015, 0.03, 0.05])
def test_the_force_of_an_air_can_is_how_its_energy_changes(pressure_psi: float, travel_m: float) -> None:
    step = 1e-5
    slope = (energy(pressure_psi * PSI, travel_m + step) - energy(pressure_psi * PSI, travel_m - step)) / (2 * step)
    assert can_force(CAN, pressure_psi * PSI, travel_m, ambient_pa=AMBIENT) == pytest.approx(slope, rel=1e-5, abs=0.05)


@pytest.mark.parametrize("share", [0.25, 0.3, 0.35])
def test_the_pressure_for_a_sag_is_the_root_that_scipy_finds(share: float) -> None:
    sag, load, step = share * 0.055, 1500.0, 1e-6

    def over(pressure_pa: float) -> float:
        return (energy(pressure_pa, sag + step) - energy(pressure_pa, sag - step)) / (2 * step) - load

    root = brentq(over, 1.0, 400 * PSI)
    assert can_pressure_for_sag(CAN, load, sag, ambient_pa=AMBIENT) == pytest.approx(root, rel=1e-4)


def test_without_a_negative_chamber_to_speak_of_it_is_a_plain_cylinder() -> None:
    """Boyle's law by hand: 100 psi in 125 ml, squeezed to half, is twice the absolute pressure."""
    plain = AirCan(0.055, 0.040, 0.0399, 1.3e-4, 1e-3, 0.0, 300 * PSI)
    half = 1.3e-4 / 2 / (math.pi * 0.040**2 / 4)
    held = (100 * PSI + AMBIENT) * 2 - AMBIENT
    force = can_force(plain, 100 * PSI, half, ambient_pa=AMBIENT)
    ring_n = 100 * PSI * math.pi * (0.040**2 - 0.0399**2) / 4
    assert force == pytest.approx(held * math.pi * 0.040**2 / 4, abs=ring_n + 1)


def test_a_tight_can_of_100_ml_reads_194_psi_on_a_hose_of_3_ml() -> None:
    """Amounts of gas by hand: 200 psi gauge and the hose's air at the room's pressure, in 103 ml."""
    amounts = ((200 * PSI + AMBIENT) * 100e-6 + AMBIENT * 3e-6) / 103e-6 - AMBIENT
    assert after_hose(200 * PSI, 100e-6, 3e-6) == pytest.approx(amounts)
    assert after_hose(200 * PSI, 100e-6, 3e-6) / PSI == pytest.approx(194.2, abs=0.05)


@pytest.mark.parametrize(("rate", "preload", "load"), [(80e3, 0.002, 1800.0), (60e3, 0.0, 900.0), (9e3, 0.012, 250.0)])
def test_a_coil_rests_where_its_energy_and_the_loads_are_least(rate: float, preload: float, load: float) -> None:
    spring = CoilSpring(rate, 0.06, preload)
    slope = brentq(lambda at: rate * (preload + at) - load, -1.0, 1.0)
    assert coil_sag(spring, load) == pytest.approx(max(slope, 0.0))
    grid = [number * 1e-6 for number in range(60_001)]
    least = min(grid, key=lambda at: rate * (preload + at) ** 2 / 2 - load * at)
    assert coil_sag(spring, load) == pytest.approx(least, abs=2e-6)


def test_the_rate_and_preload_for_a_sag() -> None:
    """80 kg, six tenths of it on the rear wheel, leverage 2.5, 30 % of 60 mm: 471 N, 1,177 N, 18 mm, 65.4 N/mm."""
    wheel_n = wheel_load(80, 0.6)
    shock_n = load_on_shock(wheel_n, leverage_of(0.150, 0.060))
    rate = coil_rate_for_sag(shock_n, 0.3 * 0.060)
    assert (wheel_n, shock_n, rate / 1000) == pytest.approx((470.7, 1176.8, 65.4), abs=0.05)
    stiffer = coil_rate_for_sag(shock_n, 0.018, preload_m=0.002)
    assert coil_sag(CoilSpring(stiffer, 0.06, 0.002), shock_n) == pytest.approx(0.018)
    assert coil_preload_for_sag(stiffer, shock_n, 0.018) == pytest.approx(0.002)


def test_leverage_does_the_same_work_at_both_ends() -> None:
    leverage, wheel_n = 2.6, 500.0
    at_wheel, _ = quad(lambda _: wheel_n, 0.0, 0.1)
    at_shock, _ = quad(lambda _: load_on_shock(wheel_n, leverage), 0.0, shock_travel(0.1, leverage))
    assert at_shock == pytest.approx(at_wheel)
    assert wheel_travel(shock_travel(0.1, leverage), leverage) == pytest.approx(0.1)
    back, _ = quad(lambda _: load_at_wheel(load_on_shock(wheel_n, leverage), leverage), 0.0, 0.1)
    assert back == pytest.approx(at_wheel)


def test_a_share_of_a_rider_is_weighed_with_standard_gravity() -> None:
    """48 kg of 80 kg on the wheel: 48 kgf, by SciPy's kilogram-force (NIST SP 811), is six tenths."""
    assert share_of_mass(48 * kilogram_force, 80.0) == pytest.approx(0.6)


@pytest.mark.parametrize("stroke_mm", [50, 57.5, 65, 75])
def test_a_ratio_typed_the_other_way_round_is_named(stroke_mm: float) -> None:
    """A wheel of 150 mm does the work of its shock (virtual work): the ratio of the forces is that of the travels."""
    ratio = 150 / stroke_mm
    assert possible_leverage(ratio) == ratio
    with pytest.raises(ContradictoryReading, match="as far as the shock") as refused:
        possible_leverage(stroke_mm / 150)
    assert f"the leverage is {ratio:.2f}." in refused.value.likely_slip


@pytest.mark.parametrize(
    ("ratio", "slip"), [(25.0, "Then it is 2.50."), (150.0, "such as 150/60"), (4.6, ""), (0.1, "")]
)
def test_a_leverage_no_bicycle_has_is_refused_with_its_slip(ratio: float, slip: str) -> None:
    with pytest.raises(ContradictoryReading) as refused:
        possible_leverage(ratio)
    assert refused.value.field == "leverage"
    assert slip in refused.value.likely_slip
    assert bool(slip) is bool(refused.value.likely_slip)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (lambda: leverage_of(0.15, 0.6), "stroke_m"),
        (lambda: coil_preload_for_sag(90e3, 900.0, 0.02), "rate_n_per_m"),
        (lambda: coil_sag(CoilSpring(20e3, 0.05), 1500.0), "load_n"),
        (lambda: CoilSpring(-1.0, 0.05), "rate_n_per_m"),
        (lambda: AirCan(0.055, 0.036, 0.044, 1.25e-4, 1.4e-5, 0.006, 1e6), "body_m"),
        (lambda: AirCan(0.055, 0.044, 0.036, 8e-5, 1.4e-5, 0.006, 1e6), "positive_volume_m3"),
        (lambda: can_pressure_for_sag(CAN, 9000.0, 0.015), "load_n"),
    ],
)
def test_what_cannot_be_is_named(wrong: object, field: str) -> None:
    with pytest.raises(ImpossibleValue) as refused:
        wrong()  # type: ignore[operator]
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("can", "load_n", "sag_m", "named"),
    [
        (CAN, 1.0, 0.030, "load_n"),  # with no pressure at all it would sag less
        (CAN, 60_000.0, 0.014, "load_n"),  # only above the can's maximum
        # So small a negative chamber, far squeezed before its port, pulls in more than the other holds up.
        (replace(CAN, negative_volume_m3=1e-6, port_travel_m=0.020), 1_000.0, 0.0001, "sag_m"),
    ],
)
def test_what_no_pressure_can_do_is_refused_by_name(can: AirCan, load_n: float, sag_m: float, named: str) -> None:
    with pytest.raises(ImpossibleValue) as refused:
        can_pressure_for_sag(can, load_n, sag_m)
    assert refused.value.field == named
