"""Everything the shop holds of one person, as JSON and CSV with their photos and documents in one zip file."""

from __future__ import annotations

import json
import zipfile
from dataclasses import asdict
from typing import IO, Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Prefetch
from django.forms.models import model_to_dict
from django.utils import timezone

from workshop.customers.models import Customer
from workshop.intervals.models import CounterReading, Ride, ServiceDone, WeeklyHours
from workshop.issued.models import Document
from workshop.links.models import CustomerLink
from workshop.privacy.in_tables import tables_of
from workshop.reminders.models import Message
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import ConditionNote, Photo, Ticket
from workshop.till.models import Payment, Receipt
from workshop.web.csv_files import as_csv
from workshop.web.number_words import plain_price
from workshop.web.storage import file_or_none
from workshop.work.event_words import log_lines

_READ_ME = (
    "data.json holds every record of this person, photos and documents the files it names. The folder tables has the "
    "same as CSV, for a spreadsheet: a list within a ticket is a table of its own, with the ticket’s number; a cell "
    "that would run as a formula has an apostrophe in front. Pressures are in pascals, "
    "lengths in metres, times in UTC, clicks counted from fully closed.\n"
)


def gather_person(customer: Customer) -> dict[str, Any]:
    """Every record of a person as plain data, in a fixed number of queries."""
    tickets = Ticket.objects.filter(customer=customer).select_related("unit__model", "bike", "visit")
    units = SuspensionUnit.objects.filter(customer=customer).select_related("model")
    return {
        "made_at": timezone.now(),
        "shop": {"name": customer.shop.name, "address": customer.shop.address, "email": customer.shop.email},
        "customer": _row(customer),
        "merged_records": [_row(one) for one in Customer.with_merged.filter(merged_into=customer).order_by("pk")],
        "bikes": [_row(bike) for bike in customer.bikes.all()],
        "units": [{**_row(unit), "title": unit.title} for unit in units],
        "ride_hours": {
            "said": [_row(row) for row in WeeklyHours.objects.filter(unit__in=units)],
            "rides": [_row(row) for row in Ride.objects.filter(unit__in=units)],
            "counter": [_row(row) for row in CounterReading.objects.filter(unit__in=units)],
        },
        "services": [_row(row) for row in ServiceDone.objects.filter(unit__in=units)],
        "tickets": [
            _ticket(ticket)
            for ticket in tickets.order_by("number").prefetch_related(
                "complaints",
                "moves",
                "settings_records",
                Prefetch("condition_notes", ConditionNote.with_removed.all()),
                "contacts",
                "free_findings",
                "finding_answers",
                "part_lines__part",
                "labour_lines",
                "agreements",
                "discounts",
                "events",
                "ticket_runs__run__checklist",
                "ticket_runs__run__ticks__step",
                "ticket_runs__run__readings__step",
                "ticket_runs__run__told",
            )
        ],
        "photos": [
            {
                "ticket": photo.ticket.number,
                "file": photo.file.name,
                "caption": photo.caption,
                "taken_at": photo.at,
                "removed_at": photo.removed_at,
            }
            for photo in _photos(customer)
        ],
        "documents": [
            {"ticket": paper.ticket.number, "file": paper.pdf.name, "issued_at": paper.issued_at, "data": paper.data}
            for paper in _documents(customer)
        ],
        "payments": [
            {**_row(payment), "ticket": payment.ticket.number}
            for payment in Payment.objects.filter(ticket__customer=customer).select_related("ticket")
        ],
        "receipts": [
            {"number": receipt.number_words, "at": receipt.at, "data": receipt.data}
            for receipt in Receipt.objects.filter(customer=customer)
        ],
        "reminders": [_row(message) for message in Message.objects.filter(customer=customer)],
        "links": [
            {"ticket": link.ticket.number, "made_at": link.made_at, "expires_at": link.expires_at}
            for link in CustomerLink.objects.filter(ticket__customer=customer).select_related("ticket")
        ],
    }


def write_export(customer: Customer, file: IO[bytes]) -> None:
    """Write the zip. A photo or document whose file is lost is named in the JSON and left out of the zip.

    Raises workshop.web.storage.StoreAway: the store of files does not answer.
    """
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("read me.txt", _READ_ME)
        data = gather_person(customer)
        archive.writestr("data.json", json.dumps(data, cls=DjangoJSONEncoder, ensure_ascii=False, indent=2))
        for table, rows in tables_of(data).items():
            archive.writestr(f"tables/{table}.csv", as_csv(rows))
        names = [photo.file.name for photo in _photos(customer)] + [paper.pdf.name for paper in _documents(customer)]
        for name in dict.fromkeys(names):
            if (stored := file_or_none(name)) is not None:
                with stored as kept:
                    archive.writestr(zipfile.ZipInfo(str(name), timezone.now().timetuple()[:6]), kept.read())


def _photos(customer: Customer) -> list[Photo]:
    return list(Photo.with_removed.filter(ticket__customer=customer).select_related("ticket"))


def _documents(customer: Customer) -> list[Document]:
    return list(Document.objects.filter(ticket__customer=customer).select_related("ticket"))


def _row(record: Any) -> dict[str, Any]:
    """A record's own columns; what only serves the shop's searching and locking is left out."""
    hidden = {"search_text", "version", "shop", "client_id", "by", "claim", "queued_by", "digest"}
    return model_to_dict(record, exclude=hidden)


def _ticket(ticket: Ticket) -> dict[str, Any]:
    runs = [link.run for link in ticket.ticket_runs.all()]
    return {
        "number": ticket.number,
        "unit": ticket.unit.title,
        "serial": ticket.unit.serial,
        "bike": str(ticket.bike or ""),
        "complaint_words": ticket.complaint_words,
        "complaints": [complaint.title for complaint in ticket.complaints.all()],
        "state": ticket.state_words,
        "booked_at": ticket.booked_at,
        "promised_on": ticket.promised_on,
        "price_ceiling": ticket.price_ceiling,
        "no_limit_said": ticket.no_limit_said,
        "notes": ticket.notes,
        "visit": None if ticket.visit is None else _row(ticket.visit),
        "moves": [{"to": move.to_state, "reason": move.reason, "at": move.at} for move in ticket.moves.all()],
        "settings": [_row(record) for record in ticket.settings_records.all()],
        "seen": [_row(finding) for finding in ticket.free_findings.all()],
        "said_to_findings": [_row(answer) for answer in ticket.finding_answers.all()],
        "condition": [
            {"place": note.place, "text": note.text, "at": note.at, "removed_at": note.removed_at}
            for note in ticket.condition_notes.all()
        ],
        "calls_and_messages": [_row(contact) for contact in ticket.contacts.all()],
        "parts": [
            {
                "part": line.title,
                "quantity": line.quantity,
                "unit_price": plain_price(line.unit_price),
                "note": line.note,
            }
            for line in ticket.part_lines.all()
        ],
        "labour": [_row(line) for line in ticket.labour_lines.all()],
        "discounts": [_row(line) for line in ticket.discounts.all()],
        "answers": [_row(answer) for answer in ticket.agreements.all()],
        "checklists": [
            {
                "title": run.checklist.title,
                "steps": [
                    {"step": tick.step.title, "outcome": tick.outcome, "note": tick.note, "at": tick.ticked_at}
                    for tick in run.ticks.all()
                ],
                "told": [
                    {"part": told.part, "condition": told.value, "note": told.note, "at": told.said_at}
                    for told in run.told.all()
                ],
                "readings": [
                    {"step": reading.step.title, "reading": reading.key, "value": reading.typed, "at": reading.read_at}
                    for reading in run.readings.all()
                ],
            }
            for run in runs
        ],
        "logbook": [
            {
                "at": line.event.at,
                "text": line.words,
                "changes": [asdict(change) for change in line.changes],
            }
            for line in log_lines(ticket.events.all(), ticket.shop)
        ],
    }
