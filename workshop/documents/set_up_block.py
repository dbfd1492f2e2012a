"""The set-up card of the customer's report: the pressure for the sag this fork is meant to have."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnosis.places import Place
from diagnosis.set_up import RULE_SAYS, MeasuredSag, SetUp, set_up
from specs.models import SpecValue
from specs.physics.air_spring import ImpossibleValue
from specs.physics.air_spring.rest import RULE_READING_M as READING_M
from specs.units import show
from workshop.tickets.models import Ticket
from workshop.work.leaving import Leaving
from workshop.work.spring import spring_of


def set_up_block(ticket: Ticket, leaving: Leaving, values: Mapping[str, SpecValue]) -> dict[str, Any] | None:
    """The pressure for the right sag: that it leaves with where its sag is right, else one to set.

    None until a sag was read after the work, at the pressure with which the fork leaves.
    """
    unit, shop = ticket.unit, ticket.shop
    low, high = values.get("sag_low"), values.get("sag_high")
    sag_m, pressure_pa = leaving.settings.sag_m, leaving.settings.pressure_pa
    spring = spring_of(unit, values=values)
    if spring is None or unit.travel_m is None or sag_m is None or pressure_pa is None:
        return None
    if not leaving.sag_is_at_pressure:
        return None  # of the sag at the pressure it leaves with nothing is known
    if low is None or high is None or low.magnitude_si is None or high.magnitude_si is None:
        return None

    def write(magnitude_si: float, dimension: str) -> str:
        return show(magnitude_si, dimension, shop.unit_for(dimension))

    low_m, high_m = low.magnitude_si * unit.travel_m, high.magnitude_si * unit.travel_m
    sag_range = f"{write(low_m, 'length')} to {write(high_m, 'length')}"
    checked = low.is_checked and high.is_checked
    left_with = f"It leaves with {write(pressure_pa, 'pressure')}; at that we read {write(sag_m, 'length')} of sag"
    if low_m - READING_M <= sag_m <= high_m + READING_M:
        return {
            "sag_range": sag_range,
            "pressure": write(pressure_pa, "pressure"),
            "by_rule": "",
            "sentences": [f"{left_with}, within the range."],
            "assumed": [],
            "warnings": [],
            "checked": checked,
        }
    wanted_sag_m = (low_m + high_m) / 2
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
        "sag_range": sag_range,
        "pressure": "" if card.pressure_pa is None else write(card.pressure_pa, "pressure"),
        "by_rule": "" if card.by_rule_pa is None else write(card.by_rule_pa, "pressure"),
        "sentences": [f"{left_with}, outside the range.", *_of_one_pressure(card)],
        "assumed": list(card.assumed),
        "warnings": list(card.warnings),
        "checked": checked,
    }


def _of_one_pressure(card: SetUp) -> list[str]:
    """The card's sentences without the rule of thumb where the spring itself is worked out: one pressure to set."""
    if card.pressure_pa is None:
        return list(card.sentences)
    return [sentence for sentence in card.sentences if not sentence.startswith(RULE_SAYS)]
