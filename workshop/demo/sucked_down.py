"""The demo's sucked-down fork, half way through its diagnosis, made by the same functions that the bench uses."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from decimal import Decimal

from django.utils import timezone

from diagnosis.models import Checklist, Complaint, Tick
from diagnosis.runs import TypedReadings, start_run, tick
from diagnosis.runs_state import state_of
from specs.models import ServiceKit
from specs.units import to_si
from workshop.demo.garage import Owned
from workshop.staff.models import Shop, User
from workshop.tickets.booking import AgreedAtBooking, MarkSeen, book_in
from workshop.tickets.models import Ticket, TicketRun
from workshop.tickets.settings_record import Settings
from workshop.work.adding_parts import add_from_kit
from workshop.work.moves import move

# With the wheel hanging on it; invented.
REST_TRAVEL = "66 mm"
PUMP_READING = "76 psi"
# Ticked before the mechanic was called away: the cheap steps, none of which helped.
STEPS_DONE = 6


def make_sucked_down(*, shop: Shop, staff: Mapping[str, User], owned: Owned, complaint: Complaint) -> Ticket:
    """Book the fork in, take it to the bench, and rule out the first cheap causes."""
    mechanic = staff["mechanic"]
    ticket = book_in(
        shop=shop,
        by=staff["counter"],
        customer=owned.customer,
        unit=owned.unit,
        bike=owned.bike,
        agreement=AgreedAtBooking(
            complaint_words="It rides hard, hardly moves, then sinks and stays low. Pumping it up does nothing.",
            complaints=[complaint],
            promised_on=timezone.localdate() + dt.timedelta(days=3),
            price_ceiling=Decimal(220),
            arrival=Settings(
                pressure_pa=to_si(76.0, "pressure", "psi"),
                rest_travel_m=0.066,
                rebound_clicks=7,
                compression_clicks=5,
                spacers=1,
                remarks="The rider set 82 psi a month ago",
            ),
            marks=[MarkSeen("Right stanchion", "Dull patch at the wiper, no scratch to feel")],
        ),
    )
    move(ticket=ticket, to_state=Ticket.State.ON_THE_BENCH, by=mechanic, seen_version=ticket.version)
    checklist = Checklist.objects.get(key="sits-low", is_current=True)
    run = start_run(checklist=checklist, facts=owned.unit.facts(), by=mechanic)
    TicketRun.objects.create(ticket=ticket, run=run)
    for _ in range(STEPS_DONE):
        state = state_of(run)
        if state.next is None:
            break
        step = state.next.step
        typed = {plan["key"]: _READINGS[plan["key"]] for plan in step.readings if plan["key"] in _READINGS}
        tick(
            run=run,
            step_key=step.key,
            outcome=Tick.Outcome.DONE if step.kind == "work" else Tick.Outcome.RULED_OUT,
            by=mechanic,
            seen_version=run.version,
            client_id=uuid.uuid4(),
            readings=TypedReadings(typed=typed),
        )
        run = type(run).objects.select_related("checklist").get(pk=run.pk)
    add_from_kit(ticket=ticket, level=ServiceKit.Level.LOWERS, by=mechanic)
    return ticket


_READINGS = {
    "rest_travel": REST_TRAVEL,
    "pump_pressure": PUMP_READING,
    "rebound_clicks": "7",
    "compression_clicks": "5",
}
