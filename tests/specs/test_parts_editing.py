"""Parts of the list: sizes, what cannot be, and what is in use. O-ring sizes against ISO 3601-1 / AS568."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from specs.models import Part
from specs.parts_editing import PartData, delete_part, save_part, standard_size
from tests.factories import KitLineFactory, PartFactory, PartLineFactory, StockItemFactory
from tests.known import known

pytestmark = pytest.mark.django_db
RING = PartData("T-OR-1", "O-ring, air piston", role="o_ring", inside_mm=6.07, section_mm=1.78)


def test_a_ring_is_named_by_its_standard_size() -> None:
    # AS568-010: 0.239 in inside, 0.070 in thick, that is 6.07 and 1.78 mm; the table is ISO 3601-1's inch sizes.
    part = save_part(part=None, data=RING)
    assert part.size == "6.07 × 1.78 mm (ISO 3601-1 size 010)"


def test_a_ring_of_no_standard_size_is_its_measures() -> None:
    assert standard_size(6.5, 1.5) is None
    assert save_part(part=None, data=replace(RING, inside_mm=6.5, section_mm=1.5)).size == "6.5 × 1.5 mm"


def test_words_made_from_measures_follow_them_and_own_words_stay() -> None:
    part = save_part(part=None, data=PartData("T-1", "Wiper", stanchion_mm=35.0))
    assert part.size == "35 mm stanchion"
    save_part(part=part, data=PartData("T-1", "Wiper", size=part.size, stanchion_mm=36.0))
    assert part.size == "36 mm stanchion"
    save_part(part=part, data=PartData("T-1", "Wiper", size="36, low friction", stanchion_mm=34.0))
    assert part.size == "36, low friction"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"section_mm": None}, "section_mm"),
        ({"inside_mm": -6.0}, "inside_mm"),
        ({"measure": "cupfuls"}, "measure"),
        ({"role": "doorbell"}, "role"),
        ({"bottle_ml": Decimal(500)}, "bottle_ml"),
        ({"number": ""}, "number"),
        ({"description": " "}, "description"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(changes: dict[str, object], field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        save_part(part=None, data=replace(RING, **changes))  # type: ignore[arg-type]
    assert field in refused.value.message_dict
    assert not Part.objects.exists()


def test_a_number_is_given_once() -> None:
    PartFactory(number="t-or-1")
    with pytest.raises(ValidationError, match="Another part has this number"):
        save_part(part=None, data=RING)


def test_a_part_in_use_keeps_its_measure() -> None:
    part = StockItemFactory(part=PartFactory(measure="ml")).part
    with pytest.raises(ValidationError, match="counted in ml already"):
        save_part(part=part, data=PartData(part.number, part.description))


def test_a_part_nobody_uses_can_go() -> None:
    delete_part(PartFactory())
    assert not Part.objects.exists()


def test_a_part_in_use_stays_and_says_where() -> None:
    in_kit, on_ticket = KitLineFactory().part, PartLineFactory().part
    with pytest.raises(ValidationError, match=r"is in 1 kit\. Remove it"):
        delete_part(in_kit)
    with pytest.raises(ValidationError, match=r"is in use \(1 part line\)"):
        delete_part(known(on_ticket))
    assert Part.objects.filter(pk__in=[in_kit.pk, known(on_ticket).pk]).count() == 2
