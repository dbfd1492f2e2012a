"""The air spring of a ticket's unit, and what the readings of its runs say about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnosis.declared import ARRIVAL_PRESSURE, REST_DEPTH
from diagnosis.runs_state import RunState
from diagnosis.spring_answer import SpringAnswer, answer_from_readings
from specs.lookup import GeometryGap, spring_geometry
from specs.models import SpecValue
from specs.physics.air_spring import AirSpring, ImpossibleValue
from specs.physics.atmosphere import pressure_at_altitude
from workshop.plots.spring_curve import SpringCurve, spring_curve
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit


@dataclass(frozen=True)
class SpringShown:
    """What the screen says of the spring: an answer with its drawing, or what is missing for one."""

    answer: SpringAnswer | None
    gap: GeometryGap | None
    curve: SpringCurve | None


def spring_of(unit: SuspensionUnit, *, values: Mapping[str, SpecValue] | None = None) -> AirSpring | GeometryGap | None:
    """The spring to calculate with, or what is missing for it; None for a unit that has no such spring.

    `values` saves the query where the caller has looked the unit's spec values up already. What was measured on this
    unit and taken over goes before its model's values.
    """
    facts = unit.facts()
    if unit.model is None or unit.travel_m is None or facts.get("spring_kind") == "coil" or unit.kind != "fork":
        return None
    return spring_geometry(unit.model, unit.travel_m, values=values, measured=unit.measured_geometry)


def arrival_answer(
    states: Iterable[RunState],
    unit: SuspensionUnit,
    shop: Shop,
    *,
    values: Mapping[str, SpecValue] | None = None,
) -> SpringAnswer | GeometryGap | None:
    """What the rest depth and the pump reading taken on arrival say; None before both are there.

    A gap in the geometry is given back as it is, so that the screen can ask for the readings that close it.
    """
    rest_travel_m = pump_pa = None
    for state in states:
        rest_travel_m = _first(state, REST_DEPTH, rest_travel_m)
        pump_pa = _first(state, ARRIVAL_PRESSURE, pump_pa)
    if rest_travel_m is None or pump_pa is None:
        return None
    spring = spring_of(unit, values=values)
    if not isinstance(spring, AirSpring):
        return spring
    try:
        return answer_from_readings(
            spring,
            rest_travel_m=rest_travel_m,
            reading_pa=pump_pa,
            unit_for=shop.unit_for,
            ambient_pa=pressure_at_altitude(shop.altitude_m),
        )
    except ImpossibleValue as impossible:
        return GeometryGap(reason=f"{impossible.reason[0].upper()}{impossible.reason[1:]}.")


def spring_shown(
    states: Iterable[RunState], unit: SuspensionUnit, shop: Shop, *, values: Mapping[str, SpecValue]
) -> SpringShown | None:
    """The answer to the arrival readings with its curve; None before both readings are there."""
    answer = arrival_answer(states, unit, shop, values=values)
    if answer is None:
        return None
    if isinstance(answer, GeometryGap):
        return SpringShown(None, answer, None)
    spring = spring_of(unit, values=values)
    curve = spring_curve(spring, answer, shop.unit_for) if isinstance(spring, AirSpring) else None
    return SpringShown(answer, None, curve)


def _first(state: RunState, measures: str, found: float | None) -> float | None:
    """The reading of this at the first step of the run that has it: on arrival, before any work."""
    if found is not None:
        return found
    for step_state in state.steps:
        reading = step_state.reading_of(measures)
        if reading is not None:
            return reading.magnitude_si
    return None
