"""What the readings of a step mean for this fork, from those typed now and those of earlier steps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from diagnosis.declared import (
    PRESSURE_AFTER_WAIT,
    PRESSURE_SET,
    REST_DEPTH,
    REST_PULLED,
    REST_PUSHED,
    SAG,
    measured_by_key,
)
from diagnosis.evidence import Evidence, Standing, coil_rest_evidence, holding_evidence, rest_evidence
from diagnosis.hanging import what_hangs
from diagnosis.judging import Yardstick
from diagnosis.models import Reading
from diagnosis.runs_readings import ReadingsRefused, TypedReading, read_all
from diagnosis.runs_state import RunState, StepState
from specs.contradictions import COILS
from specs.lookup import GeometryGap
from specs.physics.air_spring import AirSpring, ImpossibleValue, equalised, friction_from_rests
from specs.physics.atmosphere import pressure_at_altitude
from specs.units import show
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.rests import mounted_now, rests_read
from workshop.work.shock import sag_evidence
from workshop.work.spring import SpringStory, spring_story
from workshop.work.work import ForkValues
from workshop.work.yardsticks import typed_at

_PROOF = "proof"


def evidence_for(
    ticket: Ticket, values: ForkValues, run_state: RunState, state: StepState, typed: Mapping[str, str]
) -> list[Evidence]:
    """What the readings of a proof step mean; nothing while they are missing or cannot be read."""
    if state.step.kind != _PROOF:
        return []
    shop = ticket.shop
    read: list[Reading | TypedReading] = [*state.readings.values(), *_readable(shop, state, typed)]
    measures = measured_by_key(state.step.readings)
    now = {
        measures[reading.key]: reading.magnitude_si
        for reading in read
        if reading.key in measures and reading.magnitude_si is not None
    }

    def write(magnitude_si: float, dimension: str) -> str:
        return show(magnitude_si, dimension, shop.unit_for(dimension))

    found: list[Evidence] = []
    if REST_DEPTH in now and run_state.run.facts.get("spring_kind") == "coil":
        found.append(coil_rest_evidence(now[REST_DEPTH], write=write))
    elif REST_DEPTH in now and run_state.run.facts.get("spring_kind") not in COILS:
        on_a_bike = ticket.bike_id is not None
        weighed = rests_read([run_state], on_a_bike=on_a_bike).weighed
        pressure_pa = _latest_pressure_pa(run_state)
        found.append(
            rest_evidence(
                now[REST_DEPTH],
                spring=_with_friction(ticket, values, run_state, pressure_pa, now),
                pressure_pa=pressure_pa,
                write=write,
                ambient_pa=pressure_at_altitude(shop.altitude_m),
                hanging=what_hangs(mounted_now(run_state.unit.conditions, on_a_bike=on_a_bike), weighed, shop.unit_for),
            )
        )
    if SAG in now and run_state.run.facts.get("kind") == "shock":
        found += sag_evidence(ticket, values, now[SAG], _latest_pressure_pa(run_state), write)
    if PRESSURE_SET in now and PRESSURE_AFTER_WAIT in now:
        before_pa, after_pa = now[PRESSURE_SET], now[PRESSURE_AFTER_WAIT]
        found.append(
            holding_evidence(
                before_pa,
                after_pa,
                chamber_m3=_chamber_m3(values),
                write=write,
                hose_m3=shop.pump_hose_m3,
                kind="shock" if run_state.run.facts.get("kind") == "shock" else "fork",
            )
        )
    return found


def _chamber_m3(values: ForkValues) -> float | None:
    """The positive chamber: of the spring as it is calculated with, else as the specs have it alone."""
    if isinstance(values.spring, AirSpring):
        return values.spring.positive_volume_m3
    return values.magnitude("positive_volume")


def _with_friction(
    ticket: Ticket, values: ForkValues, run_state: RunState, pressure_pa: float | None, now: Mapping[str, float]
) -> AirSpring | GeometryGap | None:
    """The unit's spring with its friction as it was measured: at this step, else before it; else as its specs say."""
    spring = values.spring
    if not isinstance(spring, AirSpring):
        return spring
    story = spring_story(
        [run_state], ticket.unit, ticket.shop, values=values.values, on_a_bike=ticket.bike_id is not None
    )
    known = (story.now or story.arrival).spring if isinstance(story, SpringStory) else None
    if REST_PUSHED in now and REST_PULLED in now and pressure_pa is not None:
        try:
            level = equalised(spring, pressure_pa, ambient_pa=pressure_at_altitude(ticket.shop.altitude_m))
            found = friction_from_rests(spring, level, now[REST_PUSHED], now[REST_PULLED])
        except ImpossibleValue:  # refused beside its field when it is sent
            return known or spring
        friction_n = max(found.newtons.mid, spring.friction_n) if found.is_floor else found.newtons.mid
        return replace(spring, friction_n=friction_n)
    return known or spring


_WORDS: Mapping[str, tuple[Standing, str]] = {
    "within": ("fits", "as wanted."),
    "outside": ("off", "not as wanted."),
    "never": ("off", "never taken."),
    "unjudged": ("unsure", "not judged."),
}


def judged_readings(
    shop: Shop, state: StepState, held_against: Mapping[str, Yardstick], typed: Mapping[str, str]
) -> list[tuple[str, Evidence]]:
    """How each reading of the step stands against this unit's values, by reading key: typed now, or read before.

    One that cannot be read says nothing here: its refusal stands beside its field.
    """
    given = typed_at(shop, state.step, typed, held_against)
    # Read without the maximum: what is above it is refused at the tick, and said here.
    to_read = {key: replace(yardstick, most=None) for key, yardstick in held_against.items()}
    now = {reading.key: reading.magnitude_si for reading in _readable(shop, state, typed, to_read)}
    shown = []
    for plan in state.step.readings:
        key = plan["key"]
        read = now.get(key) if key in typed else getattr(state.readings.get(key), "magnitude_si", None)
        judged = given.judged(plan, read) if read is not None else None
        if judged is not None and judged.text:
            standing, word = _WORDS[judged.standing]
            shown.append((key, Evidence(standing, f"{plan['label']}: {word}", judged.text, judged.slip)))
    return shown


def _readable(
    shop: Shop, state: StepState, typed: Mapping[str, str], held_against: Mapping[str, Yardstick] | None = None
) -> list[TypedReading]:
    taken: list[TypedReading] = []
    for plan in state.step.readings:
        if typed.get(plan["key"]):
            try:
                own = {plan["key"]: typed[plan["key"]]}
                taken += read_all([plan], typed_at(shop, state.step, own, held_against or {}))
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
