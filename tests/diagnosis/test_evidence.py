"""Readings into findings: the rest position against its band, and a pressure that should hold."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnosis.evidence import coil_rest_evidence, holding_evidence, rest_evidence
from diagnosis.hanging import Hanging
from specs.lookup import GeometryGap
from specs.physics.air_spring import AirSpring, Band, equalised, rest_band
from specs.units import show

PSI = 6894.757293168361
SPRING = AirSpring(
    travel_m=0.130, piston_bore_m=0.0285, air_shaft_m=0.010, damper_shaft_m=0.010, stanchion_m=0.032,
    positive_volume_m3=1.45e-4, negative_volume_m3=2.2e-5, lower_leg_volume_m3=3.2e-4, port_travel_m=0.0035,
    friction_n=15.0, max_pressure_pa=120 * PSI,
)  # fmt: skip


def write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, {"length": "mm", "pressure": "psi", "force": "N", "volume": "ml"}[dimension])


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
    evidence = holding_evidence(
        82 * PSI, after_psi * PSI, chamber_m3=SPRING.positive_volume_m3, hose_m3=3e-6, write=write
    )
    assert evidence.standing == standing


def test_the_hose_is_allowed_for_by_the_volume_of_the_chamber() -> None:
    # p' = p V / (V + Vh) with V = 145 ml and a hose of 3 ml: 82 psi falls to 80.3 psi, worked by hand.
    evidence = holding_evidence(82 * PSI, 82 * PSI, chamber_m3=145e-6, hose_m3=3e-6, write=write)
    assert "The hose takes about 1.7 psi." in evidence.yardstick


@pytest.mark.parametrize(
    ("kind", "after_psi", "standing"),
    [
        ("fork", 80.5, "fits"),
        ("fork", 77, "unsure"),
        ("fork", 72, "off"),
        ("shock", 73, "unsure"),
        ("shock", 70, "off"),
    ],
)
def test_without_the_chamber_the_hose_may_take_as_much_as_of_the_smallest(
    kind: str, after_psi: float, standing: str
) -> None:
    # 82 psi on 3 ml: a fork of 60 ml falls to 78.1 psi, a shock of 30 ml to 74.5 psi; the gauge reads to 2 psi.
    evidence = holding_evidence(82 * PSI, after_psi * PSI, chamber_m3=None, hose_m3=3e-6, write=write, kind=kind)
    assert evidence.standing == standing


def test_a_pump_nobody_measured_is_said_to_be_assumed() -> None:
    evidence = holding_evidence(82 * PSI, 82 * PSI, chamber_m3=145e-6, write=write)
    assert "nobody measured this shop’s pump" in evidence.yardstick


@pytest.mark.parametrize(("depth_m", "standing"), [(0.0, "fits"), (0.002, "fits"), (0.003, "off")])
def test_a_coil_stands_fully_extended_and_has_no_port(depth_m: float, standing: str) -> None:
    evidence = coil_rest_evidence(depth_m, write=write)
    assert evidence.standing == standing
    assert "A coil has no port" in evidence.yardstick


def test_a_wheel_on_a_healthy_fork_does_not_make_it_rest_higher_than_expected() -> None:
    """30 N of wheel, lowers and brake: it rests millimetres shallower than bare, and is well."""
    slick = replace(SPRING, friction_n=4.0, port_travel_m=0.008)
    level = equalised(slick, 80 * PSI)
    rests = rest_band(slick, level, -30.0).low
    bare = rest_evidence(rests, spring=slick, pressure_pa=80 * PSI, write=write)
    assert (bare.standing, bare.word) == ("off", "Higher than expected.")
    hung = Hanging(Band(25.0, 30.0, 35.0), "Hanging on it: a wheel, assumed.")
    evidence = rest_evidence(rests, spring=slick, pressure_pa=80 * PSI, write=write, hanging=hung)
    assert evidence.standing == "fits"
    assert "Hanging on it: a wheel, assumed." in evidence.yardstick


def test_what_hangs_uncertainly_widens_the_band_both_ways_and_no_further() -> None:
    level = equalised(SPRING, 80 * PSI)
    hung = Hanging(Band(10.0, 30.0, 50.0), "assumed")
    deepest, bare = rest_band(SPRING, level, -10.0).high, rest_band(SPRING, level).high
    for depth_m, standing in ((deepest + 0.0009, "fits"), (deepest + 0.0011, "off")):
        evidence = rest_evidence(depth_m, spring=SPRING, pressure_pa=80 * PSI, write=write, hanging=hung)
        assert evidence.standing == standing
    assert deepest < bare
