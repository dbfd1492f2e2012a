"""Readings into findings: the rest position against its band, and a pressure that should hold."""

from __future__ import annotations

import pytest

from diagnosis.evidence import holding_evidence, rest_evidence
from specs.lookup import GeometryGap
from specs.physics.air_spring import AirSpring, equalised, rest_band
from specs.units import show

PSI = 6894.757293168361
SPRING = AirSpring(
    travel_m=0.130, piston_bore_m=0.0285, air_shaft_m=0.010, damper_shaft_m=0.010, stanchion_m=0.032,
    positive_volume_m3=1.45e-4, negative_volume_m3=2.2e-5, lower_leg_volume_m3=3.2e-4, port_travel_m=0.0035,
    friction_n=15.0, max_pressure_pa=120 * PSI,
)  # fmt: skip


def write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, {"length": "mm", "pressure": "psi", "force": "N"}[dimension])


def test_where_the_physics_says_it_rests_is_within_the_healthy_band() -> None:
    pressure_pa = 80 * PSI
    # specs.physics is checked on its own against published values; here only what is made of it.
    rests = rest_band(SPRING, equalised(SPRING, pressure_pa)).mid
    evidence = rest_evidence(rests, spring=SPRING, pressure_pa=pressure_pa, write=write)
    assert evidence.standing == "fits"
    assert "geometry" in evidence.yardstick


def test_a_fork_that_still_rests_deep_is_too_deep() -> None:
    evidence = rest_evidence(0.028, spring=SPRING, pressure_pa=80 * PSI, write=write)
    assert (evidence.standing, evidence.word) == ("off", "Too deep.")
    assert "28 mm" in evidence.text


@pytest.mark.parametrize("depth_m", [0.0, 0.028])
@pytest.mark.parametrize("spring", [SPRING, GeometryGap(missing=("piston_bore",)), None])
def test_a_coil_is_never_held_against_the_band_of_an_air_spring(
    depth_m: float, spring: AirSpring | GeometryGap | None
) -> None:
    """A model made in air and in coil has a geometry; the unit on the bench has none."""
    evidence = rest_evidence(depth_m, spring=spring, pressure_pa=80 * PSI, write=write, is_coil=True)
    assert (evidence.standing, evidence.word, evidence.yardstick) == ("unsure", "Not judged.", "")


@pytest.mark.parametrize(("depth_m", "standing"), [(0.0, "fits"), (0.003, "fits"), (0.005, "fits"), (0.0051, "off")])
def test_without_geometry_common_practice_is_used_and_said_to_be_that(depth_m: float, standing: str) -> None:
    gap = GeometryGap(missing=("piston_bore",))
    evidence = rest_evidence(depth_m, spring=gap, pressure_pa=80 * PSI, write=write)
    assert evidence.standing == standing
    assert "3 mm to 5 mm is usual (common practice, no published source)" in evidence.yardstick
    assert "air piston bore missing" in evidence.yardstick


def test_without_a_pressure_the_geometry_cannot_be_used_and_the_words_ask_for_it() -> None:
    evidence = rest_evidence(0.004, spring=SPRING, pressure_pa=None, write=write)
    assert "needs the pressure" in evidence.yardstick


@pytest.mark.parametrize(
    ("after_psi", "standing"), [(82, "fits"), (80.5, "fits"), (78.5, "fits"), (70, "off"), (90, "unsure")]
)
def test_a_pressure_holds_within_what_hose_and_gauge_explain(after_psi: float, standing: str) -> None:
    evidence = holding_evidence(82 * PSI, after_psi * PSI, spring=SPRING, write=write)
    assert evidence.standing == standing


def test_the_hose_is_allowed_for_by_the_volume_of_the_chamber() -> None:
    # p' = p V / (V + Vh) with V = 145 ml and a hose of 3 ml: 82 psi falls to 80.3 psi, worked by hand.
    evidence = holding_evidence(82 * PSI, 82 * PSI, spring=SPRING, write=write)
    assert "The hose takes about 1.7 psi." in evidence.yardstick


def test_without_geometry_only_the_gauge_is_allowed_for() -> None:
    evidence = holding_evidence(82 * PSI, 79.5 * PSI, spring=None, write=write)
    assert evidence.standing == "off"
    assert "hose" not in evidence.yardstick
