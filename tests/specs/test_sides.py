"""Left and right where something has a side. No database."""

from __future__ import annotations

import pytest

from specs.facts import with_side
from specs.quantities import QUANTITIES


@pytest.mark.parametrize(
    ("air_side", "spring", "damper"),
    [
        ("left", "Foot fastener, left, spring side", "Foot fastener, right, damper side"),
        ("right", "Foot fastener, right, spring side", "Foot fastener, left, damper side"),
        (None, "Foot fastener, spring side", "Foot fastener, damper side"),
    ],
)
def test_a_side_is_left_or_right_where_the_air_side_is_known(air_side: str | None, spring: str, damper: str) -> None:
    assert with_side(QUANTITIES["foot_torque_air_leg"].label, air_side) == spring
    assert with_side(QUANTITIES["foot_torque_damper_leg"].label, air_side) == damper


def test_what_has_no_side_keeps_its_label() -> None:
    assert with_side("Axle", "left") == "Axle"


@pytest.mark.parametrize("key", [key for key in QUANTITIES if key.endswith("_leg")])
def test_every_value_of_a_leg_gets_its_side(key: str) -> None:
    label = QUANTITIES[key].label
    assert {with_side(label, side).split(", ")[-2] for side in ("left", "right")} == {"left", "right"}
