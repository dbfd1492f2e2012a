"""Bolts by ISO 898-1 and the nut-factor formula; a torque wrench with an extension by a training manual."""

import numpy as np
import pytest

from specs.physics.torque import (
    NM_PER_LBF_IN,
    PROOF_STRESS_MPA,
    THREADS,
    bolt_torque,
    check_torque,
    steel_bolt_ceiling,
    tool_deviation,
    torque_at_bolt,
    wrench_setting,
)

LBF_N, INCH_M, LBF_IN_NM = 4.448221615, 0.0254, 0.1129848290  # NIST SP 811


@pytest.mark.parametrize(("thread", "area_mm2"), [("M5", 14.18), ("M6", 20.12), ("M8", 36.61)])
def test_stress_area(thread: str, area_mm2: float) -> None:
    """ISO 898-1 tabulates 14.2, 20.1 and 36.6 mm²; the formula's own digits are a hundredth finer."""
    assert THREADS[thread].stress_area_mm2 == pytest.approx(area_mm2, abs=0.006)


def test_proof_stress() -> None:
    """ISO 898-1, nominal stress under proof load, bolts up to 16 mm."""
    assert dict(PROOF_STRESS_MPA) == {"8.8": 580, "10.9": 830, "12.9": 970}
    assert max(thread.diameter_mm for thread in THREADS.values()) <= 16


@pytest.mark.parametrize(
    ("thread", "property_class", "low_nm", "high_nm"),
    [
        ("M5", "8.8", 4.6, 6.2),
        ("M6", "8.8", 7.9, 10.5),
        ("M8", "8.8", 19.1, 25.5),
        ("M5", "10.9", 6.6, 8.8),
        ("M6", "10.9", 11.3, 15.0),
        ("M8", "10.9", 27.3, 36.5),
    ],
)
def test_torque_at_three_quarters_of_proof(thread: str, property_class: str, low_nm: float, high_nm: float) -> None:
    """T = K d F, K 0.15 to 0.20, printed to 0.1 N·m."""
    ceiling = steel_bolt_ceiling(thread, property_class)
    assert (ceiling.low, ceiling.high) == pytest.approx((low_nm, high_nm), abs=0.051)
    assert check_torque(80.0, thread, property_class).verdict == "too high"


def test_worked_example_of_the_nut_factor() -> None:
    """d 0.190 in, F 1275 lbf, K 0.20: 48.5 lbf·in, printed to 0.1."""
    torque_nm = bolt_torque(0.20, 0.190 * INCH_M, 1275 * LBF_N)
    assert torque_nm / LBF_IN_NM == pytest.approx(48.5, abs=0.06)


def test_extension_example_of_the_training_manual() -> None:
    """US Navy training manual 14315: 100 wanted, 12 long, 6 added: set 66.7. The rule has no unit."""
    assert wrench_setting(100.0, 12.0, 6.0) == pytest.approx(66.7, abs=0.05)


def test_extension_in_line_and_at_an_angle() -> None:
    """Target L / (L + E): 30 N·m, 300 mm, 50 mm. Common practice for the angle: E cos(angle), none at 90°."""
    assert wrench_setting(30.0, 0.300, 0.050) == pytest.approx(25.714, abs=5e-4)
    assert wrench_setting(30.0, 0.300, 0.050, 60.0) == pytest.approx(30 * 300 / 325)
    assert wrench_setting(30.0, 0.300, 0.050, 90.0) == pytest.approx(30.0)


def test_tool_deviation() -> None:
    """ISO 6789 for setting wrenches with a scale, as makers' manuals restate it: 6 % up to 10 N·m, 4 % above."""
    assert (tool_deviation(10.0), tool_deviation(10.1)) == (0.06, 0.04)


@pytest.mark.parametrize("angle_deg", [0.0, 30.0, 60.0, 90.0, 150.0])
def test_extension_by_statics(angle_deg: float) -> None:
    """Moments of the hand's force about drive and bolt as cross products in the plane (NumPy), hand at the origin."""
    angle = np.radians(angle_deg)
    drive = np.array([0.300, 0.0])
    bolt = drive + 0.050 * np.array([np.cos(angle), np.sin(angle)])
    force = np.array([0.0, -100.0])

    def moment(about: np.ndarray) -> float:
        arm = -about
        return abs(float(arm[0] * force[1] - arm[1] * force[0]))

    assert wrench_setting(moment(bolt), 0.300, 0.050, angle_deg) == pytest.approx(moment(drive), rel=1e-9)


def test_pitches() -> None:
    """ISO 261: coarse pitches, and the fine ones by their names."""
    coarse = {"M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1, "M7": 1, "M8": 1.25, "M10": 1.5, "M12": 1.75, "M14": 2}
    for name, thread in THREADS.items():
        diameter, _, pitch = name.removeprefix("M").partition("x")
        assert thread.diameter_mm == float(diameter)
        assert thread.pitch_mm == (float(pitch) if pitch else coarse[name])


def test_what_a_tool_may_put_on_the_bolt() -> None:
    """ISO 6789 as restated: a 60 N·m tool at 30 may be off by 4 %, a 10 N·m one at 8 by 6 %."""
    wide, small = torque_at_bolt(30.0, 60.0), torque_at_bolt(8.0, 10.0)
    assert (wide.low, wide.mid, wide.high) == pytest.approx((28.8, 30.0, 31.2))
    assert (small.low, small.mid, small.high) == pytest.approx((7.52, 8.0, 8.48))


def test_pound_inches_are_offered_for_what_was_typed_in_them() -> None:
    """NIST SP 811: 1 lbf·in is 0.112 984 8 N·m, so 80 of them are 9.0 N·m."""
    assert pytest.approx(LBF_IN_NM) == NM_PER_LBF_IN
    assert "80 lbf·in (9.0 N·m)" in check_torque(80.0, "M6", "8.8").reason
