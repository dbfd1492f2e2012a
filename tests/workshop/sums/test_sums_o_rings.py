"""Nearest o-rings and how they sit. Sizes: AS568, inch sizes × 25.4 as published tables print them."""

from __future__ import annotations

import math

import pytest

from specs.physics.errors import ImpossibleValue
from specs.physics.seals import seal_sizes
from specs.units import show
from workshop.sums.answer import NBSP
from workshop.sums.o_rings import Groove, o_ring_sum, sitting


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
        "yes",
    )


def test_a_ring_that_no_size_fits_is_told_so() -> None:
    answer = o_ring_sum(inside_m=12e-3, section_m=3.0e-3, write=write)
    assert "outside its tolerance" in answer.words[0]
    assert "metric ring" in answer.warnings[0]


def test_a_size_from_memory_is_marked() -> None:
    answer = o_ring_sum(inside_m=13.94e-3, section_m=2.62e-3, write=write)
    assert any("from memory" in warning for warning in answer.warnings)


def test_squeeze_stretch_and_fill_by_hand() -> None:
    """Size 111 on an 11.0 mm floor in a gland 2.2 deep and 3.4 wide: worked with constant volume of the rubber."""
    ring = next(size for size in seal_sizes() if size.code == "111")
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
