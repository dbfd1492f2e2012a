"""The customer's report, in plain words: what was wrong, what was done, what proves it, and what comes next."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from diagnosis.models import Step, Tick
from diagnosis.runs_state import RunState
from workshop.charges.ticket_charges import charges_block, standing_charges
from workshop.documents.care import care_advice, next_service
from workshop.documents.common import date_text, in_two, settings_rows, shop_block
from workshop.documents.findings_block import found_by_the_way, unsafe_block
from workshop.documents.parts_block import parts_block
from workshop.documents.run_block import reading_text, run_states_printed, steps_printed
from workshop.documents.search_block import search_blocks
from workshop.documents.set_up_block import set_up_block
from workshop.documents.spec_block import values_of
from workshop.documents.spring_block import spring_block
from workshop.intervals.next_service import next_service_of
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.findings import findings_on
from workshop.work.in_pieces import pieces_of
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.unsafe import unsafe_of


def gather_customer_report(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the report prints, as plain JSON."""
    shop, unit, customer = ticket.shop, ticket.unit, ticket.customer
    states = run_states_printed(ticket)
    values = values_of(unit)
    leaving = settings_as_it_leaves(ticket, states)
    settings = settings_rows(ticket, shop, leaving.settings)
    pieces = pieces_of(ticket, states)
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
        "pieces": {"words": list(pieces.words), "reason": pieces.reason},
        "unsafe": unsafe_block(unsafe_of(ticket, states), ticket),
        "complaint_words": ticket.complaint_words,
        "routine": bool(states) and not any(state.run.checklist.priors for state in states),
        "searches": search_blocks(states, shop),
        "also_found": found_by_the_way(findings_on(ticket, states), shop),
        "done": in_two(_done(states), len),
        "proof": _proof(states, shop),
        "settings": [row for row in settings if row["arrival"] or row["hand_back"]],
        "spring": spring_block(ticket, states, values),
        "set_up": set_up_block(ticket, leaving, values),
        "care": list(care_advice(unit.kind)),
        "next_service": next_service(next_service_of(ticket, timezone.localdate())),
        "charges": charges_block(*standing_charges(ticket), shop.currency),
        **parts_block(ticket),
    }


def _done(states: list[RunState]) -> list[str]:
    """What was done, each once, in the order of the runs. A look without a complaint behind it is work as well."""
    routine = [state for state in states if not state.run.checklist.priors]
    looks = {look.key for look in steps_printed(routine, [Tick.Outcome.RULED_OUT])}
    done = steps_printed(states, [Tick.Outcome.DONE, Tick.Outcome.RULED_OUT])
    wanted = [entry for entry in done if entry.outcome == Tick.Outcome.DONE or entry.key in looks]
    return list(dict.fromkeys(entry.step.for_customer for entry in wanted if entry.step.for_customer))


def _proof(states: list[RunState], shop: Shop) -> list[dict[str, str]]:
    """Readings taken at proof steps, each with what the step's answer says about them; a shared proof once."""
    rows = []
    told: set[str] = set()
    for state in states:
        for step_state in state.steps:
            if step_state.step.kind != Step.Kind.PROOF or step_state.key in told or not step_state.tick:
                continue
            told.add(step_state.key)
            for plan in step_state.step.readings:
                reading = step_state.readings.get(plan["key"])
                if reading is not None:
                    says = str(step_state.answer.get("says") or "")
                    rows.append({"label": plan["label"], "value": reading_text(reading, plan, shop), "says": says})
    return rows
