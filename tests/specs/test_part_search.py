"""Parts found as people ask for them: by number, words or size."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.models import Part
from specs.part_search import WantedPart, matching, part_fits, read_wanted, sides_of
from specs.parts_editing import PartData, save_part


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("wiper 36 mm", [WantedPart("wiper"), WantedPart("36 mm", length_mm=36)]),
        ("36mm", [WantedPart("36 mm", length_mm=36)]),
        ("28,2 x 3.5mm", [WantedPart("28,2 x 3.5mm", sides_mm=(28.2, 3.5))]),
        ("12×2", [WantedPart("12×2", sides_mm=(12, 2))]),
        ("36x46x6,5", [WantedPart("36x46x6,5", sides_mm=(36, 46, 6.5))]),
        (
            "35.9 46 6,5",
            [
                WantedPart("35.9", sides_mm=(35.9,)),
                WantedPart("46"),
                WantedPart("6,5", sides_mm=(6.5,)),
            ],
        ),
        ("A-36x46", [WantedPart("A-36x46")]),
        ("2-216", [WantedPart("size 216")]),
        ("-216", [WantedPart("size 216")]),
        ("HL-OR-216", [WantedPart("HL-OR-216")]),
        ("500 ml", [WantedPart("500 ml", bottle_ml=500)]),
        ("35", [WantedPart("35")]),
        ("", []),
    ],
)
def test_reading_what_is_wanted(text: str, wanted: list[WantedPart]) -> None:
    assert read_wanted(text) == wanted


@pytest.fixture
def _parts(db: None) -> None:
    ring = Part.Role.O_RING
    for data in (
        PartData("R-1", "Ring under the cap", ring, inside_mm=28.17, section_mm=3.53),  # AS568-216
        PartData("R-2", "Ring of the piston", ring, inside_mm=24.99, section_mm=3.53),  # AS568-214
        PartData("W-36", "Dust seal", Part.Role.WIPER, stanchion_mm=36),
        PartData("W-35", "Dust seal", Part.Role.WIPER, size="35 × 45 × 6.5 mm", stanchion_mm=35),
        PartData("O-5", "Leg oil", Part.Role.OIL, "ml", bottle_ml=Decimal(500)),
        PartData("C-1", "Circlip from drawer 36"),
    ):
        save_part(part=None, data=data)


@pytest.mark.usefixtures("_parts")
@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("28.2x3.5", ["R-1"]),  # as a caliper reads it
        ("-216", ["R-1"]),
        ("3.53 mm", ["R-1", "R-2"]),
        ("wiper", ["W-35", "W-36"]),
        ("seal 36mm", ["W-36"]),
        ("wiper 35 mm", ["W-35"]),
        ("35 x 45", ["W-35"]),
        ("35x45x6.5", ["W-35"]),
        ("6,5 × 45 × 35 mm", ["W-35"]),  # in any order
        ("34.9 45.1 6.5", ["W-35"]),
        ("35 x 35", []),  # each side counts once
        ("35 x 45 x 7", []),
        ("3.53 × 28.17", ["R-1"]),
        ("28,17", ["R-1"]),
        ("24,9", ["R-2"]),
        ("36", ["C-1", "W-36"]),
        ("oil 500 ml", ["O-5"]),
        ("oil 250 ml", []),
        ("ring piston", ["R-2"]),
    ],
)
def test_parts_are_found_by_size_as_well_as_by_name(text: str, numbers: list[str]) -> None:
    found = Part.objects.all()
    for one in read_wanted(text):
        found = found.filter(matching(one))
    assert sorted(found.values_list("number", flat=True)) == numbers


SIDES = st.lists(st.integers(10, 9999).map(lambda hundredths: hundredths / 100), min_size=2, max_size=3, unique=True)


@given(sides=SIDES, off=st.floats(-0.149, 0.149), data=st.data())
def test_a_size_is_found_in_any_order_and_as_near_as_a_caliper_reads(
    sides: list[float], off: float, data: st.DataObject
) -> None:
    written = " × ".join(f"{one:g}" for one in sides) + " mm"
    assert sides_of(written) == sides
    typed = data.draw(st.permutations(sides))
    assert part_fits(sides, [one + off for one in typed])
    assert not part_fits(sides, [*typed, typed[0]])


def test_a_stanchion_in_words_is_no_side() -> None:
    assert sides_of("35 mm stanchion") == []
    assert sides_of("9.25 × 1.78 mm (ISO 3601-1 size 012)") == [9.25, 1.78]
