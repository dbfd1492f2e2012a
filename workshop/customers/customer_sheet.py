"""Customers from a sheet. Who is known already is told by number, phone, email and name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from workshop.customers.adding import add_customer
from workshop.customers.editing import edit_customer
from workshop.customers.known import FEWEST_DIGITS, national
from workshop.customers.models import Customer
from workshop.customers.people_there import PeopleThere
from workshop.customers.phones import phone_lines
from workshop.sheets.columns import Column
from workshop.sheets.models import OldNumber, SheetRow
from workshop.sheets.records import (
    YES,
    Cells,
    Entries,
    RecordSheet,
    check,
    choice_in,
    day_in,
    number_in,
    said,
    yes_or_no,
)
from workshop.staff.models import Shop, User
from workshop.web.days import start_of
from workshop.web.folding import fold

_WORDS = ("name", "contact_person", "phone", "email", "address", "language", "notes")
_EMPTY: Mapping[str, Any] = dict.fromkeys((*_WORDS, "other_phones"), "") | {
    "preferred_contact": Customer.Contact.PHONE, "agreed_to_reminders": False, "rider_mass_kg": None,
}  # fmt: skip
_BY_NAME = "name "
_COLUMN_OF = {"rider_kg": "rider_mass_kg", "agreed_on": "agreed_to_reminders_at"}


class CustomersThere(PeopleThere):
    """Whom rows of customers are about."""

    def match(self, cells: Cells, *, somebody_else: bool | None = None) -> Customer | None:
        return super().match(cells, somebody_else=yes_or_no(cells, "somebody_else"))

    def customer_of(self, cells: Cells, record: Customer | None) -> int | None:
        return record.pk if record is not None else None


class CustomerSheet(RecordSheet[Customer]):
    key = "customers"
    title = "Customers"
    thing = "customer"
    shown = ("name", "phone")
    key_column = "phone"
    old_number = OldNumber.Thing.CUSTOMER
    columns = (
        Column("number", "Their number where the file is from; bikes and units name it", ("customer number", "id", "no",
               "nr", "customer id", "kundennummer"), sample="101"),
        Column("name", "The person or the company", ("customer", "full name", "kunde"), required=True,
               sample="Ilva Sample"),
        Column("contact_person", "Of a company, whom to ask for", ("contact", "ansprechpartner")),
        Column("phone", "The first number", ("telephone", "tel", "mobile", "phone number", "telefon"),
               sample="0555 010 101"),
        Column("other_phones", "Further numbers, one a line or parted by semicolons", ("phone 2", "second phone")),
        Column("email", "The email address", ("e-mail", "mail", "email address"), sample="ilva@example.org"),
        Column("address", "Street and town", ("street", "adresse", "anschrift"), sample="1 Sample Lane, Sampletown"),
        Column("preferred_contact", "How they like to be told", unit=", ".join(Customer.Contact.values),
               sample="phone"),
        Column("language", "What they are best spoken to in", ("sprache",)),
        Column("agreed_to_reminders", "Whether they agreed to be reminded", ("reminders",), unit="yes or no",
               sample="no"),
        Column("agreed_on", "The day of that; empty is the day of the import", unit="day, as 2026-03-31"),
        Column("rider_kg", "The rider’s weight", ("weight", "rider weight", "gewicht"), decimals=1, unit="kg",
               sample="74.5"),
        Column("notes", "Anything else", ("remarks", "comment", "notizen", "bemerkung")),
        Column("somebody_else", "Where somebody of another name is here with the phone or email: yes for another "
               "person, no for the same", unit="yes or no"),
    )  # fmt: skip

    def key_of(self, cells: Cells) -> str:
        number = cells.get("number", "")
        return f"number {number.casefold()}" if number else ""

    def twice(self, line: int) -> str:
        return f"number: it is that of line {line} too. Give one of the two another number, or leave it out."

    def other_keys_of(self, cells: Cells) -> tuple[str, str]:
        """Phone and email; of somebody with neither and without a number, the name."""
        phone, email = national(cells.get("phone", "")), fold(cells.get("email", ""))
        if not (phone or email or cells.get("number")):
            return f"{_BY_NAME}{fold(cells.get('name', ''))}", ""
        return (phone if len(phone) >= FEWEST_DIGITS else ""), email

    def is_said_to_be_another(self, row: SheetRow, before: SheetRow) -> bool:
        if row.cells.get("somebody_else", "").casefold() not in YES:
            return False
        return bool(row.key) or fold(row.cells.get("name", "")) != fold(before.cells.get("name", ""))

    def shared(self, row: SheetRow, before: SheetRow) -> str:
        if row.second_key and row.second_key == before.second_key:
            return "name" if row.second_key.startswith(_BY_NAME) else "phone"
        return "email" if row.third_key and row.third_key == before.third_key else "customer on record"

    def there(self, shop: Shop, rows: Sequence[Cells]) -> CustomersThere:
        return CustomersThere(shop, rows)

    def get(self, shop: Shop, pk: int) -> Customer | None:
        return Customer.with_merged.filter(shop=shop, pk=pk).first()

    def uses(self, shop: Shop, record: Customer) -> list[str]:
        merged = ["merged into another"] if record.merged_into_id is not None else []
        return [*super().uses(shop, record), *merged]

    def texts(self, record: Customer) -> dict[str, str]:
        texts = {name: str(getattr(record, name)).replace("\r\n", "\n").strip() for name in (*_WORDS, "other_phones")}
        agreed = record.agreed_to_reminders_at if record.agreed_to_reminders else None
        return texts | {
            "preferred_contact": record.preferred_contact,
            "agreed_to_reminders": "yes" if record.agreed_to_reminders else "no",
            "agreed_on": "" if agreed is None else timezone.localtime(agreed).date().isoformat(),
            "rider_kg": "" if record.rider_mass_kg is None else f"{record.rider_mass_kg:.6g}",
        }

    def entries(self, shop: Shop, cells: Cells, there: Any, record: Customer | None) -> Entries:
        entries = said(cells, _WORDS)
        if others := cells.get("other_phones"):
            entries["other_phones"] = phone_lines(others.replace(";", "\n"))
        if contact := choice_in(cells, "preferred_contact", Customer.Contact.choices):
            entries["preferred_contact"] = contact
        if (agreed := yes_or_no(cells, "agreed_to_reminders")) is not None:
            entries["agreed_to_reminders"] = agreed
        if (on := day_in(cells, "agreed_on")) is not None:
            if start_of(on) > timezone.now():
                raise ValidationError({"agreed_on": "That day is still to come."})
            entries["agreed_on"] = on
        if (mass := number_in(cells, "rider_kg", decimals=1, low=15, high=250)) is not None:
            entries["rider_mass_kg"] = float(mass)
        return entries

    def build(self, shop: Shop, record: Customer | None, entries: Entries) -> Customer:
        built = record or Customer(shop=shop)
        agreed_before = built.agreed_to_reminders
        for name, value in entries.items():
            if name != "agreed_on":
                setattr(built, name, value)
        if built.agreed_to_reminders and "agreed_on" in entries:
            built.agreed_to_reminders_at = start_of(entries["agreed_on"])
        elif built.agreed_to_reminders and not agreed_before:
            built.agreed_to_reminders_at = timezone.now()
        check(built, exclude=["shop", "created_by", "search_text", "merged_into", "merged_by"])
        return built

    def save(self, shop: Shop, record: Customer | None, entries: Entries, by: User | None) -> Customer:
        values = {name: entries.get(name, getattr(record, name) if record else empty) for name, empty in _EMPTY.items()}
        if record is None:
            saved = add_customer(shop=shop, by=by, **values)
        else:
            saved = edit_customer(customer=record, seen_version=record.version, **values)
        on = entries.get("agreed_on")
        if on is not None and saved.agreed_to_reminders:
            saved.agreed_to_reminders_at = start_of(on)
            saved.save(update_fields=["agreed_to_reminders_at"])
        return saved

    def emptied(self, names: Sequence[str]) -> Entries:
        columns = [_COLUMN_OF.get(name, name) for name in names]
        return {name: _EMPTY[name] for name in columns if name in _EMPTY}
