import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics.torque import (
    THREADS,
    bolt_torque,
    check_torque,
    steel_bolt_ceiling,
    tool_deviation,
    torque_at_bolt,
    wrench_setting,
)


def test_an_extension_in_line_means_a_lower_setting() -> None:
    assert wrench_setting(30.0, 0.300, 0.050) == pytest.approx(30.0 * 300 / 350)
    assert wrench_setting(30.0, 0.300, 0.0) == 30.0


def test_across_the_wrench_there_is_nothing_to_correct_and_folded_back_it_is_higher() -> None:
    assert wrench_setting(30.0, 0.300, 0.050, 90.0) == pytest.approx(30.0)
    assert wrench_setting(30.0, 0.300, 0.050, 180.0) == pytest.approx(30.0 * 300 / 250)


@given(st.floats(1.0, 60.0), st.floats(0.15, 0.6), st.floats(0.0, 0.12), st.floats(0.0, 180.0))
def test_the_hand_pulls_equally_hard_with_and_without(target: float, length: float, ext: float, angle: float) -> None:
    """Force at the hand times the whole lever is the torque at the bolt."""
    hand_n = wrench_setting(target, length, ext, angle) / length
    assert hand_n * (length + ext * math.cos(math.radians(angle))) == pytest.approx(target)


@pytest.mark.parametrize(
    ("arguments", "at_fault"),
    [
        ((0.0, 0.3, 0.05), "target_nm"),
        ((30.0, 0.0, 0.05), "wrench_length_m"),
        ((30.0, 0.3, -0.01), "extension_m"),
        ((30.0, 0.3, 0.05, 181.0), "extension_angle_deg"),
        ((30.0, 0.3, 0.31, 180.0), "extension_m"),
    ],
)
def test_impossible_wrenches_name_the_field(arguments: tuple[float, ...], at_fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        wrench_setting(*arguments)


def test_small_tools_may_be_off_by_more() -> None:
    assert tool_deviation(10.0) == 0.06
    assert tool_deviation(25.0) == 0.04
    at_bolt = torque_at_bolt(8.0, 10.0)
    assert (at_bolt.low, at_bolt.mid, at_bolt.high) == pytest.approx((7.52, 8.0, 8.48))
    with pytest.raises(ValueError, match=r"^setting_nm: the tool ends at 10"):
        torque_at_bolt(12.0, 10.0)


@pytest.mark.parametrize("thread", ["M5", "M6", "M8", "M8x1"])
def test_eighty_for_eight_is_caught_with_a_reason(thread: str) -> None:
    slip = check_torque(80.0, thread, "8.8")
    assert slip.verdict == "too high"
    assert f"solid {thread} bolt of class 8.8" in slip.reason


def test_the_reason_offers_what_was_likely_meant() -> None:
    assert check_torque(80.0, "M8", "8.8").reason.endswith("Was 8 N·m or 80 lbf·in (9.0 N·m) meant?")
    assert check_torque(9000.0, "M8", "8.8").reason.endswith("Look at the value and its unit again.")


def test_a_decimal_point_can_slip_the_other_way() -> None:
    slip = check_torque(0.8, "M6", "8.8")
    assert slip.verdict == "very low"
    assert "decimal point" in slip.reason


def test_what_a_fork_takes_is_plausible() -> None:
    assert check_torque(8.0, "M8", "8.8").verdict == "plausible"
    assert check_torque(5.0, "M6", "8.8").verdict == "plausible"


def test_unknown_bolts_are_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match=r"^thread: 'M9' is not one of M3, "):
        check_torque(8.0, "M9", "8.8")
    with pytest.raises(ValueError, match=r"^property_class: 'A2-70' is not one of 8\.8, "):
        check_torque(8.0, "M8", "A2-70")
    with pytest.raises(ValueError, match=r"^torque_nm: "):
        check_torque(-8.0, "M8", "8.8")
    with pytest.raises(ValueError, match=r"^preload_share: "):
        steel_bolt_ceiling("M8", "8.8", preload_share=1.5)


@pytest.mark.parametrize("at_fault", ["nut_factor", "diameter_m", "preload_n"])
def test_bolt_torque_refuses_what_is_not_there(at_fault: str) -> None:
    with pytest.raises(ValueError, match=rf"^{at_fault}: "):
        bolt_torque(**{"nut_factor": 0.2, "diameter_m": 0.006, "preload_n": 8000.0, at_fault: 0.0})


@pytest.mark.parametrize("thread", list(THREADS))
def test_a_stronger_class_takes_more(thread: str) -> None:
    ceilings = [steel_bolt_ceiling(thread, grade).high for grade in ("8.8", "10.9", "12.9")]
    assert ceilings == sorted(ceilings)
