"""The set-up card of the customer's report: the pressure for the sag this fork is meant to have."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from diagnosis.places import Place
from diagnosis.runs_state import RunState
from diagnosis.set_up import MeasuredSag, set_up
from specs.models import SpecValue
from specs.physics.air_spring import ImpossibleValue
from specs.units import show
from workshop.bench.spring import spring_of
from workshop.tickets.models import Ticket

SAG, PRESSURE = "sag", "pressure_set"


def set_up_block(ticket: Ticket, states: Iterable[RunState], values: Mapping[str, SpecValue]) -> dict[str, Any] | None:
    """Pressure to set, by the model and by the rule of thumb; None until sag and pressure were read after the work."""
    unit, shop = ticket.unit, ticket.shop
    low, high = values.get("sag_low"), values.get("sag_high")
    listed = list(states)
    sag_m, pressure_pa = _latest(listed, SAG), _latest(listed, PRESSURE)
    spring = spring_of(unit, values=values)
    if spring is None or unit.travel_m is None or sag_m is None or pressure_pa is None:
        return None
    if low is None or high is None or low.magnitude_si is None or high.magnitude_si is None:
        return None

    def write(magnitude_si: float, dimension: str) -> str:
        return show(magnitude_si, dimension, shop.unit_for(dimension))

    wanted_sag_m = (low.magnitude_si + high.magnitude_si) / 2 * unit.travel_m
    try:
        card = set_up(
            spring,
            travel_m=unit.travel_m,
            wanted_sag_m=wanted_sag_m,
            write=write,
            measured=MeasuredSag(sag_m, pressure_pa),
            rider_mass_kg=ticket.customer.rider_mass_kg,
            max_pressure_pa=values["max_pressure"].magnitude_si if "max_pressure" in values else None,
            shop=Place(shop.altitude_m),
        )
    except ImpossibleValue:
        return None  # the readings do not fit this spring; the proof table still shows them
    return {
        "sag_range": f"{write(low.magnitude_si * unit.travel_m, 'length')} to "
        f"{write(high.magnitude_si * unit.travel_m, 'length')}",
        "pressure": "" if card.pressure_pa is None else write(card.pressure_pa, "pressure"),
        "by_rule": "" if card.by_rule_pa is None else write(card.by_rule_pa, "pressure"),
        "sentences": list(card.sentences),
        "assumed": list(card.assumed),
        "warnings": list(card.warnings),
        "checked": low.is_checked and high.is_checked,
    }


def _latest(states: Iterable[RunState], key: str) -> float | None:
    """The last reading of a key at a proof step: as the fork leaves."""
    found = None
    for state in states:
        for step_state in state.steps:
            if step_state.step.kind == "proof" and key in step_state.readings:
                found = step_state.readings[key].magnitude_si
    return found
