"""A unit's own facts go before its model's; what they rule out of those is not known, and what is typed is judged."""

from __future__ import annotations

from typing import Any

import pytest

from tests.factories import ShopFactory, SuspensionModelFactory, SuspensionUnitFactory
from workshop.counter.unit_forms import UnitForm

pytestmark = pytest.mark.django_db


def test_a_fork_converted_to_a_coil_has_no_port_any_more() -> None:
    model = SuspensionModelFactory(spring_kind="air", self_equalising=True, ramp_chamber=True)
    unit = SuspensionUnitFactory(model=model, spring_kind="coil")
    facts = unit.facts()
    assert (facts["spring_kind"], facts["self_equalising"], facts["ramp_chamber"]) == ("coil", None, None)
    assert SuspensionUnitFactory(model=model).facts()["self_equalising"] is True


def test_what_a_unit_says_of_itself_is_told_from_what_is_not_known() -> None:
    unit = SuspensionUnitFactory(
        model=None, described_as="A fork", crowns="twin", inverted="False", ramp_chamber="True"
    )
    facts = unit.facts()
    assert (facts["crowns"], facts["inverted"], facts["ramp_chamber"]) == ("twin", False, True)
    assert "gas_charge" not in facts


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"spring_kind": "coil", "ramp_chamber": "True"}, "ramp_chamber"),
        ({"spring_kind": "air_coil", "ramp_chamber": "True"}, "ramp_chamber"),
        ({"kind": "shock", "crowns": "twin"}, "crowns"),
        ({"kind": "shock", "inverted": "True"}, "inverted"),
    ],
)
def test_what_contradicts_itself_is_said_at_its_field(typed: dict[str, Any], field: str) -> None:
    form = UnitForm({"described_as": "A unit", "kind": "fork", **typed}, shop=ShopFactory())
    assert list(form.errors) == [field]
    assert form["described_as"].value() == "A unit"
    for key in typed:
        assert UnitForm({"described_as": "A unit", "kind": "fork", **typed, key: ""}, shop=ShopFactory()).is_valid()
