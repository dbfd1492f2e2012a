"""Everything the ticket page shows, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from django.db.models import Prefetch
from django.utils import timezone

from workshop.bench.finding_forms import FindingShown
from workshop.charges.decided import answers_to, decided
from workshop.counter.telling_forms import ContactForm
from workshop.counter.ticket_forms import ConditionForm, MoveForm, PhotosForm
from workshop.documents.issuing import print_buttons
from workshop.issued.models import Document
from workshop.promise.honest import mark_promises, promise_of
from workshop.staff.models import Shop
from workshop.tickets.access import ticket_of
from workshop.tickets.condition import PLACES
from workshop.tickets.contacts import told_and_taken_back
from workshop.tickets.models import ConditionNote, Contact, SettingsRecord, Ticket, TicketEvent
from workshop.tickets.one_open import open_beside
from workshop.tickets.settings_record import LABELS, Settings, settings_in_words, settings_of
from workshop.tickets.visit_rows import mark_visit
from workshop.tickets.visits import visit_as_shown
from workshop.work.event_words import log_lines
from workshop.work.findings import findings_on
from workshop.work.in_pieces import pieces_of
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.moves import moves_from
from workshop.work.unsafe import left_unsafe, unsafe_of
from workshop.work.work import run_states


@dataclass(frozen=True)
class SettingRow:
    """One setting on arrival and at hand-back, in the shop's words, and whether anybody read it at hand-back."""

    label: str
    arrival: str
    hand_back: str
    is_read_at_hand_back: bool


def whole_ticket(shop: Shop, number: int) -> Ticket:
    """The ticket with all that its page shows. Raises Http404."""
    return ticket_of(
        shop,
        number,
        Ticket.objects.with_names()
        .select_related("promise_heard", "visit")
        .prefetch_related(
            "complaints",
            Prefetch("condition_notes", ConditionNote.objects.select_related("by")),
            "photos",
            Prefetch("settings_records", SettingsRecord.objects.select_related("by").order_by("pk")),
            # What they printed is large.
            Prefetch("documents", Document.objects.defer("data").order_by("kind", "-revision")),
            "customer_links",
            Prefetch("contacts", Contact.objects.select_related("message", "by").order_by("at", "pk")),
        ),
    )


def logbook_of(shop: Shop, number: int) -> dict[str, Any]:
    """The context of a logbook: its ticket and its lines. Raises Http404."""
    events = TicketEvent.objects.select_related("by")
    ticket = ticket_of(shop, number, Ticket.objects.prefetch_related(Prefetch("events", events)))
    return {"ticket": ticket, "lines": log_lines(ticket.events.all(), shop)}


def ticket_context(ticket: Ticket, **forms: Any) -> dict[str, Any]:
    """The page's context; a refused form takes the place of its empty one."""
    records = {record.moment: record for record in ticket.settings_records.all()}
    states = run_states(ticket)
    findings = findings_on(ticket, states)
    unsafe, answers = unsafe_of(ticket, states, findings), answers_to(ticket)
    refused = answers[-1] if ticket.is_open and answers and not answers[-1].agreed else None
    today = timezone.localdate()
    danger = promise_of(ticket, today)
    mark_promises([ticket], [danger] if danger else [])
    visit = visit_as_shown(ticket)
    mark_visit(ticket, visit.others)
    return {
        "ticket": ticket,
        "visit": visit,
        "settings_records": records,
        "setting_rows": setting_rows(records, ticket.shop, settings_as_it_leaves(ticket, states).settings),
        "move_form": MoveForm(ticket=ticket),
        "condition_form": ConditionForm(),
        "photos_form": PhotosForm(),
        "contact_form": ContactForm(number=ticket.number),
        "contacts": ticket.contacts.all(),
        "told_back": told_and_taken_back(ticket, ticket.contacts.all()),
        "places": PLACES,
        "customers_no": refused,
        "decided": decided(ticket, answers, unsafe.words),
        "today": today,
        "can_be_handed_back": Ticket.State.HANDED_BACK in moves_from(ticket.state),
        "run_states": states,
        "findings": [FindingShown(finding, None) for finding in findings],
        "open_beside": open_beside(ticket),
        "pieces": pieces_of(ticket, states),
        "print_buttons": print_buttons(ticket),
        "unsafe": unsafe,
        "came_back_unsafe": left_unsafe(ticket.unit, ticket),
        **forms,
    }


def setting_rows(records: Mapping[str, SettingsRecord], shop: Shop, leaving: Settings) -> list[SettingRow]:
    """Each setting that was read at either moment, side by side; `leaving` is as it leaves."""
    arrival = settings_of(records.get(SettingsRecord.Moment.ARRIVAL))
    rows = []
    for field in fields(Settings):
        values = getattr(arrival, field.name), getattr(leaving, field.name)
        if any(value not in (None, "") for value in values):
            came, goes = (settings_in_words(field.name, value, shop) for value in values)
            rows.append(SettingRow(LABELS[field.name], came, goes, values[1] not in (None, "")))
    return rows
