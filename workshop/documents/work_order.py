"""The mechanic's work order: this fork's facts, values with their standing, steps, parts and cautions."""

from __future__ import annotations

from typing import Any

from diagnosis.shared_steps import Side, repeated
from workshop.documents.common import (
    date_text,
    in_two,
    printed_quantities,
    settings_rows,
    shop_block,
    unique_cautions,
    unit_block,
)
from workshop.documents.findings_block import finding_rows, unsafe_block
from workshop.documents.parts_block import parts_block
from workshop.documents.qr import qr_data_uri
from workshop.documents.run_block import planned_block, planned_checklists, run_states_printed, started_block
from workshop.documents.spec_block import spec_rows, values_of
from workshop.documents.spring_block import spring_block
from workshop.tickets.models import Ticket
from workshop.torque.bolts import bolt_rows
from workshop.web.number_words import money_words
from workshop.work.findings import findings_on
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.unsafe import left_unsafe, unsafe_of

MANUAL_FIRST = {
    "title": "This sheet comes second",
    "text": "Where it and the maker's manual differ, or a value is missing, go by the manual, local rules, training.",
}


def gather_work_order(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the work order prints, as plain JSON. Checklists not begun yet are printed blank."""
    shop, unit = ticket.shop, ticket.unit
    facts = dict(unit.facts())
    states = run_states_printed(ticket)
    begun = {state.run.checklist.complaint_id for state in states}
    planned = [checklist for checklist in planned_checklists(ticket) if checklist.complaint_id not in begun]
    sides = [state.side for state in states] + [Side(list(plan.steps.all()), facts, {}) for plan in planned]
    twice = repeated(sides)
    steps = [step_state.step for state in states for step_state in state.steps]
    steps += [step for checklist in planned for step in checklist.steps.all()]
    shown = unit_block(unit, shop)
    values = values_of(unit)
    findings = findings_on(ticket, states)
    return {
        "title": f"Work order {ticket.number}",
        "heading": "Work order",
        "number": ticket.number,
        "promised": date_text(ticket.promised_on),
        "qr": qr_data_uri(ticket_address) if ticket_address else "",
        "shop": shop_block(shop),
        "customer": {"name": ticket.customer.name, "phone": ticket.customer.phone},
        "bike": ticket.bike.description if ticket.bike else "",
        "price_ceiling": money_words(ticket.price_ceiling, shop.currency),
        "complaint_words": ticket.complaint_words,
        "complaints": [complaint.title for complaint in ticket.complaints.all()],
        "notes": ticket.notes,
        "unit": {**shown, "fact_pairs": _in_pairs(shown["facts"])},
        "settings": settings_rows(ticket, shop, settings_as_it_leaves(ticket, states).settings),
        "condition": [{"place": note.place, "text": note.text} for note in ticket.condition_notes.all()],
        "unsafe": unsafe_block(unsafe_of(ticket, states, findings), ticket),
        "came_back_unsafe": list(left_unsafe(unit, ticket).words),
        "findings": finding_rows(findings),
        "spec_values": spec_rows(values, printed_quantities(), shop),
        "spring": spring_block(ticket, states, values),
        "bolts": bolt_rows(ticket),
        "cautions": in_two(
            [*unique_cautions(steps, facts), MANUAL_FIRST] if steps else [], lambda c: len(c["title"] + c["text"])
        ),
        "checklists": [
            *(started_block(state, shop, shared) for state, shared in zip(states, twice, strict=False)),
            *(
                planned_block(plan, facts, shop, shared)
                for plan, shared in zip(planned, twice[len(states) :], strict=True)
            ),
        ],
        **parts_block(ticket),
    }


def _in_pairs(rows: list[dict[str, str]]) -> list[list[dict[str, str]]]:
    """Two facts to a printed row."""
    padded = rows if len(rows) % 2 == 0 else [*rows, {"label": "", "value": " "}]
    return [padded[start : start + 2] for start in range(0, len(padded), 2)]
