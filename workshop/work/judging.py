"""What the readings of a step mean for this fork, from those typed now and those of earlier steps."""

from __future__ import annotations

from collections.abc import Mapping

from diagnosis.declared import PRESSURE_AFTER_WAIT, PRESSURE_SET, REST_DEPTH, measured_by_key
from diagnosis.evidence import Evidence, holding_evidence, rest_evidence
from diagnosis.models import Step
from diagnosis.runs_readings import ReadingsRefused, TypedReading, read_all
from diagnosis.runs_state import RunState, StepState
from specs.physics.atmosphere import pressure_at_altitude
from specs.units import show
from workshop.staff.models import Shop
from workshop.work.work import ForkValues

_PROOF = "proof"


def units_of(shop: Shop, step: Step) -> dict[str, str]:
    """The unit printed beside each of the step's readings, by dimension."""
    return {plan["quantity"]: shop.unit_for(plan["quantity"]) for plan in step.readings}


def evidence_for(
    shop: Shop, values: ForkValues, run_state: RunState, state: StepState, typed: Mapping[str, str]
) -> list[Evidence]:
    """What the readings of a proof step mean; nothing while they are missing or cannot be read."""
    if state.step.kind != _PROOF:
        return []
    by_key = {key: reading.magnitude_si for key, reading in state.readings.items()}
    by_key |= {reading.key: reading.magnitude_si for reading in _readable(shop, state, typed)}
    measures = measured_by_key(state.step.readings)
    now = {measures[key]: magnitude_si for key, magnitude_si in by_key.items() if key in measures}

    def write(magnitude_si: float, dimension: str) -> str:
        return show(magnitude_si, dimension, shop.unit_for(dimension))

    found: list[Evidence] = []
    if REST_DEPTH in now:
        found.append(
            rest_evidence(
                now[REST_DEPTH],
                spring=values.spring,
                pressure_pa=_latest_pressure_pa(run_state),
                write=write,
                ambient_pa=pressure_at_altitude(shop.altitude_m),
            )
        )
    if PRESSURE_SET in now and PRESSURE_AFTER_WAIT in now:
        before_pa, after_pa = now[PRESSURE_SET], now[PRESSURE_AFTER_WAIT]
        found.append(holding_evidence(before_pa, after_pa, spring=values.spring, write=write))
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
        reading = state.reading_of(PRESSURE_SET) if state.step.kind == _PROOF else None
        if reading is not None:
            return reading.magnitude_si
    return None
