"""What hangs on a fork: by what is mounted, by what was weighed, along the head angle."""

from __future__ import annotations

import math

import pytest

from diagnosis.declared import CALIPER_MASS, HEAD_ANGLE, LOWERS_MASS, WHEEL_MASS
from diagnosis.hanging import NOTHING_HANGS, USUAL_KG, Mounted, what_hangs
from tests.diagnosis_pure.test_spring_answer import METRIC

UNITS = (METRIC | {"mass": "kg"}).__getitem__
G = 9.80665  # m/s², standard gravity: ISO 80000-3


def test_all_of_it_weighed_pulls_along_the_head_angle_with_no_range_left() -> None:
    weighed = {WHEEL_MASS: 1.8, LOWERS_MASS: 0.7, CALIPER_MASS: 0.12, HEAD_ANGLE: math.radians(64)}
    found = what_hangs(Mounted(), weighed, UNITS)
    assert found.newtons.mid == pytest.approx(2.62 * G * math.sin(math.radians(64)))
    assert found.newtons.low == found.newtons.mid == found.newtons.high
    assert not found.is_assumed
    assert "assumed" not in found.words


@pytest.mark.parametrize(
    ("mounted", "names"),
    [
        (Mounted(), [WHEEL_MASS, LOWERS_MASS, CALIPER_MASS]),
        (Mounted(wheel=False), [LOWERS_MASS, CALIPER_MASS]),
        (Mounted(wheel=False, caliper=False), [LOWERS_MASS]),
    ],
)
def test_only_what_is_mounted_hangs_and_what_is_assumed_has_a_range(mounted: Mounted, names: list[str]) -> None:
    found = what_hangs(mounted, {}, UNITS)
    assert found.newtons.mid == pytest.approx(sum(USUAL_KG[name] for name in names) * G * math.sin(math.radians(65)))
    assert found.newtons.low < found.newtons.mid < found.newtons.high
    assert "common practice, no published source" in found.words
    assert "assumed" in found.short


def test_a_fork_without_a_bike_hangs_straight_down_with_its_lowers_alone() -> None:
    found = what_hangs(Mounted(on_a_bike=False), {LOWERS_MASS: 0.8}, UNITS)
    assert found.newtons.mid == pytest.approx(0.8 * G)
    assert what_hangs(Mounted(lowers=False, on_a_bike=False), {}, UNITS) is NOTHING_HANGS
