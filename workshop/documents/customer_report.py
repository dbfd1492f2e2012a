"""The customer's report, in plain words: what was wrong, what was done, what proves it, and what comes next."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from diagnosis.models import Step, Tick
from diagnosis.runs_state import RunState
from specs.models import ServiceKit
from workshop.charges.ticket_charges import charges_block, standing_charges
from workshop.documents.care import care_advice, next_service
from workshop.documents.common import date_text, in_two, settings_rows, shop_block
from workshop.documents.parts_block import parts_block
from workshop.documents.run_block import reading_text, run_states, steps_of
from workshop.documents.set_up_block import set_up_block
from workshop.documents.spec_block import values_of
from workshop.documents.spring_block import spring_block
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def gather(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the report prints, as plain JSON."""
    shop, unit, customer = ticket.shop, ticket.unit, ticket.customer
    states = run_states(ticket)
    values = values_of(unit)
    return {
        "title": f"Report on ticket {ticket.number}",
        "heading": "Service report",
        "number": ticket.number,
        "promised": date_text(ticket.promised_on),
        "booked": date_text(timezone.localtime(ticket.booked_at).date()),
        "shop": shop_block(shop),
        "customer": {"name": customer.name, "address": customer.address},
        "bike": ticket.bike.description if ticket.bike else "",
        "unit": {"title": unit.title, "kind": unit.get_kind_display(), "serial": unit.serial},
        "complaint_words": ticket.complaint_words,
        "routine": bool(states) and not any(state.run.checklist.priors for state in states),
        "found": _found(states),
        "ruled_out": in_two(
            [s.step.for_customer for s in steps_of(states, [Tick.Outcome.RULED_OUT]) if s.step.for_customer], len
        ),
        "done": in_two(
            [s.step.for_customer for s in steps_of(states, [Tick.Outcome.DONE]) if s.step.for_customer], len
        ),
        "proof": _proof(states, shop),
        "settings": [row for row in settings_rows(ticket, shop) if row["arrival"] or row["hand_back"]],
        "spring": spring_block(ticket, states, values),
        "set_up": set_up_block(ticket, states, values),
        "care": list(care_advice(unit.kind)),
        "next_service": next_service(values, ServiceKit.Level.LOWERS, timezone.localdate()),
        "charges": charges_block(*standing_charges(ticket), shop.currency),
        **parts_block(ticket),
    }


def _sentences(states: list[RunState], outcome: str) -> list[list[str]]:
    """What the steps with this outcome are to the customer, for two printed columns."""
    return in_two([s.step.for_customer for s in steps_of(states, [outcome]) if s.step.for_customer], len)


def _found(states: list[RunState]) -> list[dict[str, str]]:
    """Each cause once, with the mechanic's note. A finding without a named cause is told by its step."""
    rows: dict[str, dict[str, str]] = {}
    for state in states:
        for found in state.found:
            tick = found.step_state.tick
            title = found.cause.title if found.cause else found.step.title
            text = found.cause.for_customer if found.cause else found.step.for_customer
            rows.setdefault(title, {"title": title, "text": text, "note": tick.note if tick else ""})
    return list(rows.values())


def _proof(states: list[RunState], shop: Shop) -> list[dict[str, str]]:
    """Readings taken at proof steps, each with what the step's answer says about them."""
    rows = []
    for state in states:
        for step_state in state.steps:
            if step_state.step.kind != Step.Kind.PROOF:
                continue
            for plan in step_state.step.readings:
                reading = step_state.readings.get(plan["key"])
                if reading is not None:
                    says = str(step_state.answer.get("says") or "")
                    rows.append({"label": plan["label"], "value": reading_text(reading, plan, shop), "says": says})
    return rows
