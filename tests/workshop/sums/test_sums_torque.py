"""A wrench with an extension, its class, and torques that cannot be meant."""

from __future__ import annotations

import pytest

from specs.physics.errors import ImpossibleValue
from specs.units import show
from workshop.sums.answer import Answer, Missing
from workshop.sums.torque import wrench_sum


def write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, {"torque": "N·m", "length": "mm"}[dimension])


def row(answer: Answer, label: str) -> str:
    return next(row.value for row in answer.rows if row.label.startswith(label))


def test_an_extension_in_line() -> None:
    """30 N·m at 300 mm with 50 mm more: 25.714 N·m, the worked example of the lever's law."""
    answer = wrench_sum(torque_nm=30, wrench_m=0.3, extension_m=0.05, write=write)
    assert row(answer, "Set on the wrench") == "25.7 N·m"
    assert answer.words[0] == "Set the wrench to 25.7 N·m to put 30 N·m on the bolt."
    assert "14.3 % lower" in answer.words[1]


def test_the_training_manuals_example() -> None:
    """US Navy training manual 14315: 100 at the bolt, 12 long with 6 more, is 66.7 on the wrench."""
    answer = wrench_sum(torque_nm=100, wrench_m=12 * 0.0254, extension_m=6 * 0.0254, write=write)
    assert row(answer, "Set on the wrench") == "66.7 N·m"


def test_at_a_right_angle_nothing_changes() -> None:
    answer = wrench_sum(torque_nm=8, wrench_m=0.2, extension_m=0.05, angle_deg=90, write=write)
    assert row(answer, "Set on the wrench") == "8 N·m"
    assert "changes nothing" in answer.words[1]


def test_folded_back_the_wrench_is_set_higher() -> None:
    answer = wrench_sum(torque_nm=8, wrench_m=0.2, extension_m=0.05, angle_deg=180, write=write)
    assert row(answer, "Set on the wrench") == "10.7 N·m"
    assert "shorter" in answer.words[1]


def test_without_an_extension_there_is_nothing_to_correct() -> None:
    answer = wrench_sum(torque_nm=8, write=write)
    assert "nothing to correct" in answer.words[0]
    assert row(answer, "Set on the wrench") == "8 N·m"


@pytest.mark.parametrize(("tool_max", "reached"), [(10, "7.5 N·m to 8.5 N·m"), (20, "7.7 N·m to 8.3 N·m")])
def test_the_tools_class(tool_max: float, reached: str) -> None:
    """ISO 6789-1: ±6 % for tools up to 10 N·m, ±4 % above; from memory."""
    answer = wrench_sum(torque_nm=8, tool_max_nm=tool_max, write=write)
    assert row(answer, "May reach the bolt") == reached


def test_the_tools_doubt_goes_through_the_lever() -> None:
    answer = wrench_sum(torque_nm=30, wrench_m=0.3, extension_m=0.05, tool_max_nm=60, write=write)
    assert row(answer, "May reach the bolt") == "28.8 N·m to 31.2 N·m"


def test_low_in_a_tools_range_a_smaller_one_is_asked_for() -> None:
    answer = wrench_sum(torque_nm=8, tool_max_nm=60, write=write)
    assert any("from 12 N·m" in warning and "smaller tool" in warning for warning in answer.warnings)


def test_eighty_for_eight_is_refused_with_what_was_meant() -> None:
    """M6 class 8.8 takes 7.9 to 10.5 N·m: ISO 898-1 proof stress, nut factor 0.15 to 0.20."""
    with pytest.raises(ImpossibleValue, match=r"7\.9 N·m to 10\.5 N·m\. Was 8 N·m or 80 in·lbf \(9 N·m\) meant\?") as e:
        wrench_sum(torque_nm=80, thread="M6", write=write)
    assert e.value.field == "torque_nm"


def test_what_no_slip_explains_is_refused_too() -> None:
    with pytest.raises(ImpossibleValue, match="Look at the value and its unit again"):
        wrench_sum(torque_nm=400, thread="M3", write=write)


def test_a_higher_class_takes_more() -> None:
    """M6 class 10.9: 20.12 mm² × 830 MPa × 0.75 × 6 mm × 0.15 to 0.20 is 11.3 to 15.0 N·m."""
    answer = wrench_sum(torque_nm=14, thread="M6", property_class="10.9", write=write)
    assert row(answer, "A solid steel M6, class 10.9") == "11.3 N·m to 15 N·m"


def test_a_very_low_torque_is_doubted() -> None:
    answer = wrench_sum(torque_nm=0.8, thread="M6", write=write)
    assert any("slipped decimal point" in warning for warning in answer.warnings)


def test_an_extension_needs_the_wrenchs_length() -> None:
    with pytest.raises(Missing) as missing:
        wrench_sum(torque_nm=8, extension_m=0.05, write=write)
    assert missing.value.field == "wrench_m"


def test_a_setting_beyond_the_tool_names_the_tool() -> None:
    with pytest.raises(ImpossibleValue, match="beyond where this tool ends") as refused:
        wrench_sum(torque_nm=30, tool_max_nm=20, write=write)
    assert refused.value.field == "tool_max_nm"


def test_an_extension_past_the_hand_leaves_no_lever() -> None:
    with pytest.raises(ImpossibleValue) as refused:
        wrench_sum(torque_nm=8, wrench_m=0.1, extension_m=0.2, angle_deg=180, write=write)
    assert refused.value.field == "extension_m"
