import math
from collections.abc import Callable
from typing import Any

import pytest

from specs.physics.seals import (
    gland_fill,
    nearest_sizes,
    neighbours,
    seal_sizes,
    section_when_stretched,
    size_of,
    squeeze,
    stretch,
)


def test_a_worn_ring_finds_its_size_first() -> None:
    found = nearest_sizes(12.3, 1.75)
    assert [size.code for size in found] == ["014", "013", "015"]
    assert (found[0].inside_mm, found[0].section_mm) == (12.42, 1.78)


def test_the_section_tells_apart_rings_of_one_inside_diameter() -> None:
    assert nearest_sizes(15.6, 1.8, 1)[0].code == "016"
    assert nearest_sizes(15.6, 2.6, 1)[0].code == "114"


def test_every_size_is_its_own_nearest() -> None:
    for size in seal_sizes():
        assert nearest_sizes(size.inside_mm, size.section_mm, 1) == [size]


def test_as_many_as_asked_for() -> None:
    assert len(nearest_sizes(20.0, 2.6, 7)) == 7


@pytest.mark.parametrize(
    ("arguments", "at_fault"),
    [
        ((0.0, 1.78), "inside_mm"),
        ((12.4, -1.0), "section_mm"),
        ((12.4, 1.78, 0), "count"),
        ((math.nan, 1.78), "inside"),
    ],
)
def test_impossible_rings_name_the_field(arguments: tuple[Any, ...], at_fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}"):
        nearest_sizes(*arguments)


def test_squeeze_stretch_and_fill() -> None:
    assert squeeze(2.62, 2.25) == pytest.approx(0.1412, abs=1e-4)
    assert squeeze(2.62, 2.70) < 0.0
    assert stretch(24.99, 25.5) == pytest.approx(0.0204, abs=1e-4)
    assert gland_fill(3.53, 2.9, 4.5) == pytest.approx(math.pi / 4 * 3.53**2 / (2.9 * 4.5))


def test_stretching_keeps_the_volume_of_the_ring() -> None:
    thinned_mm = section_when_stretched(3.53, 0.05)
    assert thinned_mm**2 * 1.05 == pytest.approx(3.53**2)


@pytest.mark.parametrize(
    ("function", "arguments", "at_fault"),
    [
        (squeeze, (0.0, 1.0), "section_mm"),
        (squeeze, (1.78, 0.0), "gland_depth_mm"),
        (stretch, (12.0, -1.0), "groove_diameter_mm"),
        (gland_fill, (1.78, 1.5, 0.0), "gland_width_mm"),
        (section_when_stretched, (1.78, -1.0), "stretch_share"),
    ],
)
def test_impossible_glands_name_the_field(
    function: Callable[..., float], arguments: tuple[float, ...], at_fault: str
) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        function(*arguments)


@pytest.mark.parametrize("ring", [(26.64, 2.62), (28.2, 2.6), (26.55, 3.5)])
def test_a_ring_within_tolerance_is_of_its_size(ring: tuple[float, float]) -> None:
    found = size_of(*ring)
    assert found is not None
    assert abs(found.inside_mm - ring[0]) <= found.inside_tolerance_mm


@pytest.mark.parametrize("ring", [(12.0, 3.0), (21.15, 2.62), (200.0, 3.53), (12.42, 1.6), (1.0, 0.8)])
def test_a_ring_of_no_size_has_no_far_neighbour(ring: tuple[float, float]) -> None:
    assert size_of(*ring) is None
    for near in neighbours(*ring):
        assert abs(near.inside_mm / ring[0] - 1) <= 0.05
        assert abs(near.section_mm / ring[1] - 1) <= 0.10
