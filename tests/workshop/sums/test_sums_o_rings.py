"""Nearest o-rings and how they sit. Sizes: AS568, inch sizes × 25.4 as published tables print them."""

from __future__ import annotations

import math

import pytest

from specs.physics.errors import ImpossibleValue
from specs.physics.seals import seal_sizes
from specs.units import show
from workshop.sums.answer import NBSP
from workshop.sums.o_rings import Groove, Ring, o_ring_sum, sitting


def write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, "mm")


def test_a_ring_within_tolerance_is_named() -> None:
    answer = o_ring_sum(inside_m=10.82e-3, section_m=2.60e-3, write=write)
    assert answer.words[0] == "Most likely size 111, 10.77 × 2.62 mm: the measured ring is within its tolerance."
    assert answer.warnings == ()
    nearest = answer.tables[0].rows[0]
    assert nearest == (
        "111",
        f"10.77{NBSP}±{NBSP}0.13{NBSP}mm",
        f"−0.5{NBSP}%",
        f"2.62{NBSP}±{NBSP}0.08{NBSP}mm",
        f"+0.8{NBSP}%",
    )


def test_a_ring_of_no_size_is_not_in_our_table_and_gets_no_far_neighbour() -> None:
    answer = o_ring_sum(inside_m=12e-3, section_m=3.0e-3, write=write)
    assert answer.words[0] == "Not in our table: no size of it is a ring of 12 × 3 mm."
    assert "metric ring" in answer.warnings[0]
    assert answer.tables == ()
    assert answer.rows == ()


def test_a_ring_between_two_sizes_is_neither() -> None:
    """27.4 mm lies between 121 (26.64) and 122 (28.24), outside the tolerance of both."""
    answer = o_ring_sum(inside_m=27.4e-3, section_m=2.62e-3, write=write)
    assert answer.words[0].startswith("Not in our table")
    assert [cells[0] for cells in answer.tables[0].rows] == ["121", "122"]


def test_the_sizes_after_120_are_known() -> None:
    """AS568: 121 is 1.049 in, 122 is 1.112 in; 120 was once said of both."""
    for inside_m, code in ((26.64e-3, "121"), (28.24e-3, "122"), (29.82e-3, "123")):
        assert f"size {code}" in o_ring_sum(inside_m=inside_m, section_m=2.62e-3, write=write).words[0]


def test_a_ring_of_no_size_sits_by_its_own_measures() -> None:
    groove = Groove(diameter_m=20.4e-3, depth_m=2.5e-3, width_m=4e-3)
    answer = o_ring_sum(inside_m=20e-3, section_m=3.0e-3, write=write, groove=groove)
    assert answer.tables[0].rows[0][0] == "The measured ring"
    assert answer.tables[0].rows[0][2] == f"15.8{NBSP}%"  # 1 - 2.5 / (3 / sqrt(1.02))
    assert any("not verified" in warning for warning in answer.warnings)


def test_what_is_from_memory_is_no_source() -> None:
    groove = Groove(diameter_m=11e-3, depth_m=2.2e-3, width_m=3.4e-3)
    answer = o_ring_sum(inside_m=10.8e-3, section_m=2.6e-3, write=write, groove=groove)
    assert any("Seal Types and Gland Design" in line for line in answer.sources)
    assert not any("memory" in line for line in answer.sources)
    assert answer.from_memory == ("Usual stretch.", "Usual gland fill.")
    metric = o_ring_sum(inside_m=20e-3, section_m=3.0e-3, write=write, groove=groove)
    assert not any("Gland Design" in line for line in metric.sources)
    assert "Usual squeeze of this section." in metric.from_memory


def test_limits_of_squeeze_follow_the_section() -> None:
    """The guide: 1.78 mm that slides wants 15 to 25 %, 3.53 mm 9 to 17 %."""
    thin = o_ring_sum(
        inside_m=10.82e-3, section_m=1.78e-3, write=write, groove=Groove(depth_m=1.55e-3, motion="dynamic")
    )
    assert f"squeeze 13{NBSP}% (usual 15 to 25{NBSP}%)" in thin.words[1]
    thick = o_ring_sum(
        inside_m=24.99e-3, section_m=3.53e-3, write=write, groove=Groove(depth_m=3.18e-3, motion="dynamic")
    )
    assert "as is usual for a dynamic seal" in thick.words[1]


def test_a_rod_gland_presses_the_ring_together() -> None:
    """110 is 14.43 mm outside: a floor of 13.97 mm presses it by 3.2 %, a floor of 15 mm leaves it loose."""
    pressed = Groove(diameter_m=13.97e-3, depth_m=2.2e-3, gland="rod")
    answer = o_ring_sum(inside_m=9.19e-3, section_m=2.62e-3, write=write, groove=pressed)
    assert answer.tables[1].rows[0][1] == f"−3.2{NBSP}%"
    assert "as is usual" in answer.words[1]
    loose = Groove(diameter_m=15e-3, depth_m=2.9e-3, gland="rod")
    answer = o_ring_sum(inside_m=9.19e-3, section_m=2.62e-3, write=write, groove=loose)
    assert "would not touch the rod" in answer.words[1]
    assert "loose in the groove" in answer.tables[1].rows[0][4]


def test_squeeze_stretch_and_fill_by_hand() -> None:
    """Size 111 on an 11.0 mm floor in a gland 2.2 deep and 3.4 wide: worked with constant volume of the rubber."""
    size = next(size for size in seal_sizes() if size.code == "111")
    ring = Ring(size.code, size.inside_mm, size.section_mm)
    sat = sitting(ring, Groove(11.0e-3, 2.2e-3, 3.4e-3, "dynamic"))
    thinned = 2.62 / math.sqrt(11.0 / 10.77)
    assert sat.stretch == pytest.approx(0.021356, abs=1e-6)
    assert sat.squeeze == pytest.approx(1 - 2.2 / thinned)
    assert sat.fill == pytest.approx(math.pi / 4 * thinned**2 / (2.2 * 3.4))
    assert sat.doubts == ()


def test_only_what_was_measured_is_worked_out() -> None:
    answer = o_ring_sum(inside_m=10.8e-3, section_m=2.6e-3, write=write, groove=Groove(diameter_m=11e-3))
    row = answer.tables[1].rows[0]
    assert row[1] == f"2.1{NBSP}%"
    assert row[2:4] == ("not measured", "not measured")


def test_a_gland_deeper_than_the_ring_does_not_touch() -> None:
    answer = o_ring_sum(inside_m=10.8e-3, section_m=2.6e-3, write=write, groove=Groove(depth_m=3e-3))
    assert "would not touch" in answer.words[1]


def test_more_rubber_than_room_cannot_be_closed() -> None:
    groove = Groove(depth_m=1.6e-3, width_m=2.0e-3)
    answer = o_ring_sum(inside_m=10.8e-3, section_m=2.6e-3, write=write, groove=groove)
    assert "cannot be closed" in answer.words[1]


def test_what_is_unusual_is_named_with_the_usual() -> None:
    groove = Groove(diameter_m=12e-3, depth_m=2.2e-3, width_m=3.4e-3)
    answer = o_ring_sum(inside_m=10.8e-3, section_m=2.6e-3, write=write, groove=groove)
    assert f"stretch 11{NBSP}% (usual 1 to 5{NBSP}%)" in answer.words[1]


def test_a_width_without_a_depth_names_the_depth() -> None:
    with pytest.raises(ImpossibleValue) as refused:
        o_ring_sum(inside_m=10.8e-3, section_m=2.6e-3, write=write, groove=Groove(width_m=3e-3))
    assert refused.value.field == "depth_m"
