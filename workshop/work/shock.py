"""What the sag of a ticket's shock says, with the leverage of its bike and the can of its model."""

from __future__ import annotations

from diagnosis.evidence import Evidence, Writer
from diagnosis.shock_sag import Leverage, ShockRead, shock_sag_evidence
from specs.lookup import CAN_GEOMETRY
from specs.physics.atmosphere import pressure_at_altitude
from specs.quantities import QUANTITIES
from workshop.tickets.models import Ticket
from workshop.work.work import ForkValues


def leverage_of_ticket(ticket: Ticket) -> Leverage:
    """The leverage of the bike that the ticket's shock is on, with where it is from; or why there is none."""
    if ticket.bike is None:
        return Leverage(None, "No bike is on this ticket, and the leverage is a bike’s.")
    if ticket.bike.leverage is None:
        return Leverage(None, f"The leverage of “{ticket.bike}” is not on record. Note it on the bike’s page.")
    return Leverage(ticket.bike.leverage, ticket.bike.leverage_words)


def sag_evidence(
    ticket: Ticket, values: ForkValues, sag_m: float, pressure_pa: float | None, write: Writer
) -> list[Evidence]:
    """What a sag read at the shock means; nothing while the stroke of this shock is not known."""
    stroke_m = ticket.unit.travel_m
    if stroke_m is None:
        return []
    low, high = (values.magnitude(key) for key in ("sag_low", "sag_high"))
    read = ShockRead(
        sag_m=sag_m,
        stroke_m=stroke_m,
        pressure_pa=pressure_pa,
        sag_range_m=None if low is None or high is None else (low * stroke_m, high * stroke_m),
        rider_mass_kg=ticket.customer.rider_mass_kg,
    )
    return shock_sag_evidence(
        read,
        leverage=leverage_of_ticket(ticket),
        can=values.can,
        can_words=can_words(values),
        write=write,
        ambient_pa=pressure_at_altitude(ticket.shop.altitude_m),
    )


def can_words(values: ForkValues) -> str:
    """Where the values of the can are from, and which of them nobody has checked against that."""
    known = [values.values[key] for key in CAN_GEOMETRY if key in values.values]
    sources = ", ".join(dict.fromkeys(value.source_document for value in known))
    unchecked = ", ".join(QUANTITIES[value.quantity].label.lower() for value in known if not value.is_checked)
    doubt = f" Not checked against the manual: {unchecked}." if unchecked else ""
    return f"Air can by {sources}; ideal gas, friction and the damper’s own gas left out.{doubt}"
