"""The customer's report, in plain words: what was wrong, what was done, what proves it, and what comes next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from diagnosis.models import Step, Tick
from diagnosis.runs_state import RunState, StepState
from workshop.charges.ticket_charges import charges_block, standing_charges
from workshop.documents.care import care_advice, next_service
from workshop.documents.common import date_text, settings_rows, shop_block, unit_kind_words
from workshop.documents.findings_block import done_since, found_by_the_way, unsafe_block
from workshop.documents.parts_block import parts_block
from workshop.documents.photos_block import photo_rows
from workshop.documents.pictures import is_drawing_beside
from workshop.documents.run_block import (
    reading_row,
    readings_read,
    run_states_printed,
    steps_printed,
    was_read,
)
from workshop.documents.said_once import endings_once
from workshop.documents.search_block import search_blocks
from workshop.documents.set_up_block import set_up_block
from workshop.documents.spec_block import values_of
from workshop.documents.spring_block import spring_block
from workshop.intervals.next_service import next_service_of
from workshop.staff.models import Shop
from workshop.suspension.measuring import measured_in_words
from workshop.tickets.models import Ticket
from workshop.torque.bolts import bolt_rows
from workshop.work.findings import findings_on
from workshop.work.in_pieces import pieces_of
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.unsafe import unsafe_of
from workshop.work.yardsticks import bolt_readings

_IN_WORK = (Ticket.State.BOOKED_IN, Ticket.State.ON_THE_BENCH, Ticket.State.WAITING)
BESIDE = 8
"""The lines of a bill that stand beside what was done; a longer one has the width of the page."""
_NOT_WRITTEN = gettext_noop("not recorded")


def gather_customer_report(ticket: Ticket, ticket_address: str) -> dict[str, Any]:
    """Everything the report prints, as plain JSON."""
    shop, unit, customer = ticket.shop, ticket.unit, ticket.customer
    states = run_states_printed(ticket)
    values = values_of(unit)
    leaving = settings_as_it_leaves(ticket, states)
    settings = settings_rows(ticket, shop, leaving.settings)
    pieces = pieces_of(ticket, states)
    findings = findings_on(ticket, states)
    interim = ticket.state in _IN_WORK
    parts = parts_block(ticket)
    done = _done(states, ticket)
    since = done_since(findings, shop)
    searches, proof = search_blocks(states, shop, since), _proof(states, shop)
    unsafe = unsafe_block(unsafe_of(ticket, states, findings), ticket)
    photos, after = photo_rows(ticket, "before"), photo_rows(ticket, "after")
    photos_more = [*photos[1:], *after[1:], *photo_rows(ticket, "")]
    charges = charges_block(*standing_charges(ticket), shop)
    shown = [row for row in settings if row["arrival"] or row["hand_back"]]
    return {
        "title": _title(interim) % {"number": ticket.number},
        "heading": gettext("Interim report") if interim else gettext("Service report"),
        "interim": interim,
        "number": ticket.number,
        "promised": date_text(ticket.promised_on),
        "booked": date_text(timezone.localtime(ticket.booked_at).date()),
        "shop": shop_block(shop),
        "customer": {"name": customer.name, "address": customer.address},
        "bike": ticket.bike.description if ticket.bike else "",
        "unit": {"title": unit.title, "kind": unit_kind_words(unit), "serial": unit.serial},
        "pieces": {"words": list(pieces.words), "reason": pieces.reason},
        "unsafe": unsafe,
        "complaint_words": ticket.complaint_words,
        "routine": bool(states) and not any(state.run.checklist.priors for state in states),
        "searches": searches,
        "also_found": found_by_the_way(findings, shop, since),
        "done": done,
        "readings": [row for row in done if row["read"]],
        "fitted": [row["in_words"] for row in parts["parts"] if row["used"]],
        "proof": proof,
        "settings": shown,
        "is_set": any(row["hand_back"] for row in settings),
        "has_details": bool(
            shown or done or proof or photos_more or any(search["tried"] or search["told_above"] for search in searches)
        ),
        "spring": spring_block(ticket, states, values),
        "geometry": measured_in_words(unit),
        "set_up": None if interim else set_up_block(ticket, leaving, values),
        "photos_first": photos[:1] + after[:1],
        "drawing_beside": is_drawing_beside(searches, photos[:1] + after[:1]),
        "photos_more": photos_more,
        "short_right": bool(pieces.words or unsafe["words"] or interim),  # no set-up, care or next service stands there
        "care": list(care_advice(unit.kind)),
        "next_service": None if interim else next_service(next_service_of(ticket, timezone.localdate())),
        "charges": charges | {"is_short": 0 < len(charges["lines"]) <= BESIDE},
        **parts,
    }


def _title(interim: bool) -> str:
    return gettext("Interim report on ticket %(number)s") if interim else gettext("Report on ticket %(number)s")


def _done(states: list[RunState], ticket: Ticket) -> list[dict[str, Any]]:
    """What was done, each once, in the order of the runs, with what was read there.

    A look without a complaint behind it is work as well. Work that had to be measured, and was not, is left out; of a
    critical bolt whose torque nobody wrote down, there or on the page of the bolts, it says so.
    """
    bolts = {row["bolt"]: row for row in bolt_rows(ticket) if row["recorded"]}
    routine = [state for state in states if not state.run.checklist.priors]
    looks = {look.key for look in steps_printed(routine, [Tick.Outcome.RULED_OUT])}
    done = steps_printed(states, [Tick.Outcome.DONE, Tick.Outcome.RULED_OUT])
    wanted = [entry for entry in done if entry.outcome == Tick.Outcome.DONE or entry.key in looks]
    rows: dict[str, dict[str, Any]] = {}
    for entry in wanted:
        if not entry.step.for_customer or not was_read(entry):
            continue
        row = rows.setdefault(entry.step.for_customer, {"text": entry.step.for_customer, "read": []})
        row["read"] += [one for one in _read_at(entry, ticket.shop, bolts) if one not in row["read"]]
    for row in rows.values():
        row["doubtful"] = [one for one in row["read"] if one["outside"] or one["value"] == gettext(_NOT_WRITTEN)]
    texts = endings_once(list(rows))
    return [{**row, "text": text} for row, text in zip(rows.values(), texts, strict=True)]


def _read_at(entry: StepState, shop: Shop, bolts: Mapping[str, Mapping[str, Any]]) -> list[dict[str, Any]]:
    bolt_of = {reading: bolt for bolt, reading in bolt_readings(entry.step).items()}
    rows = []
    for plan in entry.step.readings:
        if plan["key"] in entry.readings:
            rows.append(reading_row(entry.readings[plan["key"]], plan, shop))
        elif plan["key"] in bolt_of:
            rows.append({**reading_row(None, plan, shop), **_of_bolt(bolts.get(bolt_of[plan["key"]]))})
    return rows


def _of_bolt(record: Mapping[str, Any] | None) -> dict[str, Any]:
    """A torque as the page of the bolts has it, which writes down what is doubtful about it."""
    if record is None:
        return {"value": gettext(_NOT_WRITTEN)}
    return {"value": record["recorded"], "outside": bool(record["marks"]), "reason": "; ".join(record["marks"])}


def _proof(states: list[RunState], shop: Shop) -> list[dict[str, Any]]:
    """Readings taken at proof steps, each with how it was read; a shared proof once. What was not proved says so."""
    rows = []
    told: set[str] = set()
    for state in states:
        for step_state in state.steps:
            if step_state.step.kind != Step.Kind.PROOF or step_state.key in told or not step_state.tick:
                continue
            told.add(step_state.key)
            proved = step_state.outcome == Tick.Outcome.PROVED
            says = str(step_state.answer.get("says") or "") if proved else ""
            rows += [{**row, "says": says, "proved": proved} for row in readings_read(step_state, shop)]
    return rows
