"""The mechanic's work order: this fork's facts, values with their standing, steps, parts and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from diagnosis.cautions import DANGER, WARNING
from diagnosis.layout import applies
from diagnosis.layout_plans import BOLTS
from diagnosis.shared_steps import Side, repeated
from specs.expected import not_asked
from specs.facts import FactValue
from specs.models import SpecValue
from workshop.documents.common import (
    contact_block,
    date_text,
    printed_quantities,
    settings_rows,
    shop_block,
    unit_block,
)
from workshop.documents.findings_block import finding_rows, unsafe_block
from workshop.documents.parts_block import parts_block
from workshop.documents.qr import qr_data_uri
from workshop.documents.run_block import planned_block, planned_checklists, run_states_printed, started_block
from workshop.documents.spec_block import spec_rows, values_of, with_notes
from workshop.documents.spring_block import spring_block
from workshop.signed.standing import read_throughs
from workshop.suspension.measuring import measured_in_words
from workshop.tickets.models import Ticket
from workshop.torque.bolts import bolt_rows
from workshop.web.number_words import shop_money
from workshop.work.findings import findings_on
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.unsafe import left_unsafe, unsafe_of

MANUAL_FIRST = {
    "title": "This sheet comes second",
    "text": "Where it and the maker’s manual differ, or a value is missing, go by the manual, local rules, training.",
}


def gather_work_order(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the work order prints, as plain JSON. Checklists not begun yet are printed blank."""
    shop, unit = ticket.shop, ticket.unit
    facts = dict(unit.facts())
    states = run_states_printed(ticket)
    begun = {state.run.checklist.complaint_id for state in states}
    covering, left_out = planned_checklists(ticket)
    planned = [checklist for checklist in covering if checklist.complaint_id not in begun]
    sides = [state.side for state in states] + [Side(list(plan.steps.all()), facts, {}) for plan in planned]
    twice = repeated(sides)
    versions = [*(state.run.checklist for state in states), *planned]
    read = read_throughs(shop, versions)
    blocks = [
        *(started_block(state, shop, shared) for state, shared in zip(states, twice, strict=False)),
        *(planned_block(plan, facts, shop, shared) for plan, shared in zip(planned, twice[len(states) :], strict=True)),
    ]
    checklists = [block | {"unread": read[one.pk].caveat} for block, one in zip(blocks, versions, strict=True)]
    values = values_of(unit)
    steps = [step for plan in planned for step in plan.steps.all() if applies(step, facts) != "no"]
    bolts = bolt_rows(ticket, planned=steps)
    spec_values, sources = with_notes(spec_rows(values, _on_paper(checklists, bolts, values, facts), shop))
    findings = findings_on(ticket, states)
    notes = {row["key"]: row["note"] for row in spec_values}
    return {
        "title": f"Work order {ticket.number}",
        "heading": "Work order",
        "number": ticket.number,
        "promised": date_text(ticket.promised_on),
        "qr": qr_data_uri(ticket_address) if ticket_address else "",
        "shop": shop_block(shop),
        "customer": {"name": ticket.customer.name, "phone": ticket.customer.phone, **contact_block(ticket.customer)},
        "bike": ticket.bike.description if ticket.bike else "",
        "price_ceiling": _ceiling(ticket),
        "complaint_words": ticket.complaint_words,
        "complaints": [complaint.title for complaint in ticket.complaints.all()],
        "notes": ticket.notes,
        "unit": unit_block(unit, shop),
        "settings": settings_rows(ticket, shop, settings_as_it_leaves(ticket, states).settings),
        "condition": [{"place": note.place, "text": note.text} for note in ticket.condition_notes.all()],
        "unsafe": unsafe_block(unsafe_of(ticket, states, findings), ticket),
        "came_back_unsafe": list(left_unsafe(unit, ticket).words),
        "findings": finding_rows(findings),
        "spec_values": spec_values,
        "values": [row for row in spec_values if row["key"] not in {BOLTS[bolt["bolt"]] for bolt in bolts}],
        "sources": sources,
        "spring": spring_block(ticket, states, values),
        "geometry": measured_in_words(unit),
        "bolts": [{**bolt, "note": notes.get(BOLTS[bolt["bolt"]], "")} for bolt in bolts],
        "manual_first": MANUAL_FIRST,
        "not_covered": left_out,
        "checklists": beside_its_steps(checklists, spec_values),
        **parts_block(ticket),
    }


def _on_paper(
    checklists: Iterable[Mapping[str, Any]],
    bolts: Iterable[Mapping[str, Any]],
    values: Mapping[str, SpecValue],
    facts: Mapping[str, FactValue | None],
) -> list[str]:
    no_gap = not_asked(facts)
    return [key for key in quantities_of_the_job(checklists, bolts) if key in values or key not in no_gap]


def quantities_of_the_job(checklists: Iterable[Mapping[str, Any]], bolts: Iterable[Mapping[str, Any]]) -> list[str]:
    """What these steps show and these bolts want, in the registry's order; of a ticket without steps, all there is."""
    printed = printed_quantities()
    shown = {key for checklist in checklists for step in checklist["steps"] for key in step["shows"]}
    wanted = shown | {BOLTS[bolt["bolt"]] for bolt in bolts}
    return [key for key in printed if key in wanted] if shown else printed


def beside_its_steps(
    checklists: Iterable[Mapping[str, Any]], spec_values: Iterable[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """The checklists with each step's values beside it, and its cautions.

    A caution's text stands where it first comes up at a step that is still to be done. A danger or a warning is named
    again at each further one, a danger with its word; what hurts little stands there once. A step that is done keeps
    the names of its dangers, and says no more what would count as found.
    """
    rows = {row["key"]: row for row in spec_values}
    told: set[str] = set()

    def cautions_of(step: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
        for caution in step["cautions"]:
            first = caution["title"] not in told and not step["is_over"]
            if first or caution["level"] == DANGER or (caution["level"] == WARNING and not step["is_over"]):
                is_said = first or caution["level"] == DANGER
                word, text = caution["word"] if is_said else "", caution["text"] if first else ""
                yield {**caution, "word": word, "text": text}
            if first:
                told.add(caution["title"])

    return [
        {
            **checklist,
            "steps": [
                {
                    **step,
                    "counts_as_found": "" if step["is_over"] else step["counts_as_found"],
                    "cautions": list(cautions_of(step)),
                    "values": asked_together([rows[key] for key in step["shows"] if key in rows]),
                    "readings": asked_together(step["readings"]),
                }
                for step in checklist["steps"]
            ],
        }
        for checklist in checklists
    ]


def asked_together(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Rows with the words in front of them, `asks`; neighbours that differ in their `side` alone share them.

    “Lower-leg oil, spring side” and “Lower-leg oil, damper side” are asked together as “Lower-leg oil”; `together` is
    the number of what is asked so.
    """
    asked: list[dict[str, Any]] = []
    for row in rows:
        stem, _, side = row["label"].rpartition(", ")
        last: dict[str, Any] = asked[-1] if asked else {"stem": "", "together": 0}
        joins = bool(stem) and stem == last["stem"]
        if joins:
            last["asks"], last["side"] = stem, last["label"].removeprefix(f"{stem}, ")
        words, of_it = (stem, side) if joins else (row["label"], "")
        number = last["together"] + (0 if joins else 1)
        asked.append({**row, "asks": words, "side": of_it, "stem": stem, "together": number})
    return asked


def _ceiling(ticket: Ticket) -> str:
    """What may be spent on it and on all of its visit, as it was said; empty where nothing was."""
    shop, visit = ticket.shop, ticket.visit
    own = "no limit, as the customer said" if ticket.no_limit_said else shop_money(ticket.price_ceiling, shop)
    of_all = "" if visit is None or visit.price_ceiling is None else shop_money(visit.price_ceiling, shop)
    return "; ".join(words for words in (own, f"{of_all} for the whole visit" if of_all else "") if words)
