"""Left and right where something has a side, and what a kind of unit can have at all. No database."""

from __future__ import annotations

import pytest

from specs.facts import MODEL_FACTS, facts_of_kind, with_side
from specs.quantities import QUANTITIES


@pytest.mark.parametrize(
    ("air_side", "spring", "damper"),
    [
        ("left", "Foot fastener, spring side (left)", "Foot fastener, damper side (right)"),
        ("right", "Foot fastener, spring side (right)", "Foot fastener, damper side (left)"),
        (None, "Foot fastener, spring side", "Foot fastener, damper side"),
    ],
)
def test_a_side_is_left_or_right_where_the_air_side_is_known(air_side: str | None, spring: str, damper: str) -> None:
    said = {key: with_side(QUANTITIES[key].label, key, air_side) for key in QUANTITIES}
    assert (said["foot_torque_air_leg"], said["foot_torque_damper_leg"]) == (spring, damper)


def test_what_has_no_side_keeps_its_label() -> None:
    assert with_side("Axle", "axle_torque", "left") == "Axle"


@pytest.mark.parametrize("key", [key for key in QUANTITIES if key.endswith("_leg")])
def test_every_value_of_a_leg_gets_its_side(key: str) -> None:
    label = QUANTITIES[key].label
    assert {with_side(label, key, side).removeprefix(label) for side in ("left", "right")} == {" (left)", " (right)"}


def test_a_shock_has_no_crowns_and_a_fork_no_reservoir() -> None:
    fork, shock = facts_of_kind("fork"), facts_of_kind("shock")
    assert {"crowns", "foot_fastener", "air_side", "foam_rings"} <= set(fork) - set(shock)
    assert set(shock) - set(fork) == {"reservoir"}
    assert set(fork) | set(shock) == set(MODEL_FACTS)
