"""What the readings of a step mean for this fork, from those typed now and those of earlier steps."""

from __future__ import annotations

from collections.abc import Mapping

from diagnosis.evidence import Evidence, holding_evidence, rest_evidence
from diagnosis.models import Reading, Step
from diagnosis.reading_kinds import options_of
from diagnosis.runs_readings import ReadingsRefused, TypedReading, read_all
from diagnosis.runs_state import RunState, StepState
from specs.physics.atmosphere import pressure_at_altitude
from specs.units import show
from workshop.staff.models import Shop
from workshop.work.work import ForkValues

REST, PRESSURE_SET, PRESSURE_AFTER = "rest_travel", "pressure_set", "pressure_recheck"
_PROOF = "proof"


def units_of(shop: Shop, step: Step) -> dict[str, str]:
    """The unit printed beside each of the step's readings, by dimension."""
    return {plan["quantity"]: shop.unit_for(plan["quantity"]) for plan in step.readings if not options_of(plan)}


def evidence_for(
    shop: Shop, values: ForkValues, run_state: RunState, state: StepState, typed: Mapping[str, str]
) -> list[Evidence]:
    """What the readings of a proof step mean; nothing while they are missing or cannot be read."""
    if state.step.kind != _PROOF:
        return []
    read: list[Reading | TypedReading] = [*state.readings.values(), *_readable(shop, state, typed)]
    now = {reading.key: reading.magnitude_si for reading in read if reading.magnitude_si is not None}

    def write(magnitude_si: float, dimension: str) -> str:
        return show(magnitude_si, dimension, shop.unit_for(dimension))

    found: list[Evidence] = []
    if REST in now:
        found.append(
            rest_evidence(
                now[REST],
                spring=values.spring,
                pressure_pa=_latest_pressure_pa(run_state),
                write=write,
                ambient_pa=pressure_at_altitude(shop.altitude_m),
            )
        )
    if PRESSURE_SET in now and PRESSURE_AFTER in now:
        found.append(holding_evidence(now[PRESSURE_SET], now[PRESSURE_AFTER], spring=values.spring, write=write))
    return found


def _readable(shop: Shop, state: StepState, typed: Mapping[str, str]) -> list[TypedReading]:
    taken: list[TypedReading] = []
    for plan in state.step.readings:
        if typed.get(plan["key"]):
            try:
                taken += read_all([plan], {plan["key"]: typed[plan["key"]]}, units_of(shop, state.step))
            except ReadingsRefused:
                continue
    return taken


def _latest_pressure_pa(run_state: RunState) -> float | None:
    """The pressure the fork holds after the work: what was set when it was proved."""
    for state in run_state.steps:
        if state.step.kind == _PROOF and PRESSURE_SET in state.readings:
            return state.readings[PRESSURE_SET].magnitude_si
    return None
