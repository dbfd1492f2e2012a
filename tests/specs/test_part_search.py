"""Parts found as people ask for them: by number, words or size."""

from __future__ import annotations

from decimal import Decimal

import pytest

from specs.models import Part
from specs.part_search import WantedPart, matching, read_wanted
from specs.parts_editing import PartData, save_part


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("wiper 36 mm", [WantedPart("wiper"), WantedPart("36 mm", length_mm=36)]),
        ("36mm", [WantedPart("36 mm", length_mm=36)]),
        ("28,2 x 3.5mm", [WantedPart("28,2 x 3.5mm", ring_mm=(28.2, 3.5))]),
        ("12×2", [WantedPart("12×2", ring_mm=(12, 2))]),
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
