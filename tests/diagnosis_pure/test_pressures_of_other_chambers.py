"""A pressure is held against the maximum of its own chamber, never against that of another. No database."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest

from diagnosis.declared import asked_on
from diagnosis.layout import step_data
from diagnosis.layout_plans import ChecklistPlan
from diagnosis.wanted import UnitKnown, yardstick_of
from tests.shipped import shipped_folder

PSI = 6894.757293168361  # NIST SP 811, appendix B.8
STEPS = {step.key: step for plan in shipped_folder().checklists for step in plan.steps}


@dataclass(frozen=True)
class Value:
    magnitude_si: float | None
    tolerance_si: float | None = None


KNOWN = UnitKnown(
    {
        "max_pressure": Value(160 * PSI),
        "max_pressure_negative": Value(140 * PSI),
        "max_pressure_ramp": Value(220 * PSI),
        "gas_charge_pressure": Value(200 * PSI, 10 * PSI),
    }
)


def reading(step: str, key: str) -> Any:
    return next(plan for plan in step_data(STEPS[step])["readings"] if plan["key"] == key)


def test_the_gas_of_a_damper_is_not_held_against_the_air_spring() -> None:
    stick = yardstick_of(reading("gas-charge-in", "gas_pressure"), KNOWN)
    assert stick.most is None
    assert stick.wanted is not None
    assert stick.wanted.low == pytest.approx(190 * PSI)
    assert stick.wanted.high == pytest.approx(210 * PSI)


@pytest.mark.parametrize(("key", "psi"), [("pump_pressure", 160), ("pressure_negative", 140), ("pressure_ramp", 220)])
def test_each_chamber_has_its_own_maximum(key: str, psi: float) -> None:
    assert yardstick_of(reading("arrival-pressure", key), KNOWN).most == pytest.approx(psi * PSI)


@pytest.mark.parametrize(
    ("key", "facts", "asked"),
    [
        ("pressure_ramp", {"ramp_chamber": True}, True),
        ("pressure_ramp", {}, True),  # what nobody knows is asked
        ("pressure_ramp", {"ramp_chamber": False}, False),
        ("pressure_negative", {"self_equalising": False}, True),
        ("pressure_negative", {}, True),
        ("pressure_negative", {"self_equalising": True}, False),
        ("pump_pressure", {"self_equalising": True, "ramp_chamber": False}, True),
    ],
)
def test_a_chamber_that_the_unit_lacks_is_not_asked_for(key: str, facts: dict[str, Any], asked: bool) -> None:
    assert asked_on(reading("arrival-pressure", key), facts) is asked


FORKS = [plan for plan in shipped_folder().checklists if "fork" in plan.complaint.suits]


@pytest.mark.parametrize("plan", FORKS, ids=lambda plan: plan.key)
def test_whoever_lets_the_air_out_is_told_of_the_ramp_up_chamber(plan: ChecklistPlan) -> None:
    keys = {"all-air-out", "fill-in-stages"} & {step.key for step in plan.steps}
    assert keys or plan.key in {"after-a-crash", "lockout-fails"}  # their forks keep their air
    for key in keys:
        lines = [line for line in plan.step(key).do if line.when.get("ramp_chamber") == (True,)]
        assert len(lines) == 1
        assert "ramp-up chamber" in lines[0].text.lower()
        assert "manual" in lines[0].text
