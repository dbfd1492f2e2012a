"""Bikes from a sheet. A bike is known by its old number, or by its owner and frame number or description."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError

from workshop.customers.adding import add_bike
from workshop.customers.editing import edit_bike
from workshop.customers.leverage import note_leverage
from workshop.customers.models import Bike, Customer
from workshop.customers.people_there import PeopleThere
from workshop.sheets.columns import Column
from workshop.sheets.models import OldNumber
from workshop.sheets.records import (
    Cells,
    Entries,
    RecordSheet,
    check,
    choice_in,
    is_another,
    known_numbers,
    number_in,
    other_numbers,
    said,
)
from workshop.staff.models import Shop, User
from workshop.web.folding import fold

_WORDS = ("description", "frame_number", "notes")

OWNER_COLUMNS = (
    Column("customer_number", "Whose it is, by the number in the file of customers",
           ("customer id", "customer no", "owner number", "kundennummer"), points_at="customers.csv, number",
           sample="101"),
    Column("customer_phone", "or by their phone", ("phone", "telephone", "telefon"), points_at="customers.csv, phone"),
    Column("customer_email", "or by their email", ("email", "e-mail"), points_at="customers.csv, email"),
    Column("customer_name", "or by their name, where nobody else has it", ("customer", "owner", "kunde"),
           points_at="customers.csv, name", sample="Ilva Sample"),
)  # fmt: skip


def plain_serial(text: str) -> str:
    """A serial or frame number without separators, however it was written."""
    return re.sub(r"[\W_]", "", fold(text))


def owners_of(people: PeopleThere, rows: Sequence[Cells]) -> set[int]:
    """The owners that rows name, of those that can be told."""
    found = set()
    for cells in rows:
        try:
            found.add(people.owner(cells).pk)
        except ValidationError:
            continue
    return found


class BikesThere:
    """The bikes of the owners that rows name."""

    def __init__(self, shop: Shop, rows: Sequence[Cells], *, number: str = "number") -> None:
        self.people = PeopleThere(shop, rows, prefix="customer_")
        numbers = known_numbers(shop, OldNumber.Thing.BIKE, [cells.get(number, "") for cells in rows])
        owners = owners_of(self.people, rows)
        bikes = Bike.objects.filter(customer__shop=shop, customer__in=owners).select_related("customer", "leverage_by")
        self.bikes = list(bikes)
        self.numbers = other_numbers(shop, OldNumber.Thing.BIKE, rows, self.bikes)
        named = {
            one.pk: one
            for one in Bike.objects.filter(customer__shop=shop, pk__in=numbers.values()).select_related("customer")
        }
        self.by_number = {key: named[pk] for key, pk in numbers.items() if pk in named}

    def of(self, owner: Customer, *, frame_number: str, description: str, number: str = "") -> Bike | None:
        """Raises ValidationError where it could be several."""
        own = [bike for bike in self.bikes if bike.customer_id == owner.pk]
        own = [bike for bike in own if not is_another(self.numbers, bike, number)]
        found = [one for one in own if frame_number and plain_serial(one.frame_number) == plain_serial(frame_number)]
        if not found:
            same = [one for one in own if fold(one.description) == fold(description)]
            found = [one for one in same if not (frame_number and one.frame_number)]
        if len(found) > 1:
            raise ValidationError(f"{owner} has {len(found)} bikes that this could be. Say which by its number.")
        return found[0] if found else None

    def match(self, cells: Cells) -> Bike | None:
        number = cells.get("number", "")
        if number in self.by_number:
            return self.by_number[number]
        if not cells.get("description"):  # a row that is taken back
            return None
        return self.of(
            self.people.owner(cells),
            frame_number=cells.get("frame_number", ""),
            description=cells.get("description", ""),
            number=number,
        )

    def learn(self, record: Any, number: str) -> None:
        """That a row made a bike, or named one by a number."""
        self.bikes = [*(bike for bike in self.bikes if bike.pk != record.pk), record]
        if number:
            self.numbers.setdefault(record.pk, set()).add(number)
            self.by_number[number] = record

    def customer_of(self, cells: Cells, record: Bike | None) -> int | None:
        return record.customer_id if record is not None else self.people.owner(cells).pk


class BikeSheet(RecordSheet[Bike]):
    key = "bikes"
    title = "Bikes"
    thing = "bike"
    shown = ("description", "customer_name")
    key_column = "number"
    old_number = OldNumber.Thing.BIKE
    columns = (
        Column("number", "Its number where the file is from; units name it", ("bike number", "bike id", "id"),
               sample="201"),
        *OWNER_COLUMNS,
        Column("description", "Maker, model and colour, as you would call it", ("bike", "model", "rad", "fahrrad"),
               required=True, sample="Sample hardtail, green"),
        Column("frame_number", "The frame number", ("frame", "serial", "serial number", "rahmennummer"),
               sample="FR-0001"),
        Column("leverage", "Of the rear shock: how far the wheel goes for what the shock does", decimals=2,
               unit="1 to 4.5"),
        Column("leverage_source", "Where that is from", unit=", ".join(Bike.LeverageSource.values)),
        Column("notes", "Anything else", ("remarks", "comment", "notizen")),
    )  # fmt: skip

    def key_of(self, cells: Cells) -> str:
        if number := cells.get("number"):
            return f"number {number.casefold()}"
        whose = (plain_serial(cells.get(column.name, "")) for column in OWNER_COLUMNS)
        return " ".join(
            (*whose, plain_serial(cells.get("frame_number", "")), fold(cells.get("description", "")))
        ).strip()

    def twice(self, line: int) -> str:
        return f"This bike is in line {line} too. If there are two of them, give each a number or a frame number."

    def there(self, shop: Shop, rows: Sequence[Cells]) -> BikesThere:
        return BikesThere(shop, rows)

    def get(self, shop: Shop, pk: int) -> Bike | None:
        return Bike.objects.filter(customer__shop=shop, pk=pk).select_related("customer").first()

    def texts(self, record: Bike) -> dict[str, str]:
        texts = {name: str(getattr(record, name)).replace("\r\n", "\n").strip() for name in _WORDS}
        return texts | {
            "leverage": "" if record.leverage is None else f"{record.leverage:.4g}",
            "leverage_source": record.leverage_source,
        }

    def entries(self, shop: Shop, cells: Cells, there: Any, record: Bike | None) -> Entries:
        entries = said(cells, _WORDS)
        if (leverage := number_in(cells, "leverage", decimals=2, low=0, high=100)) is not None:
            entries["leverage"] = float(leverage)
        if source := choice_in(cells, "leverage_source", Bike.LeverageSource.choices):
            entries["leverage_source"] = source
        if record is None and "description" in entries:
            entries["customer"] = there.people.owner(cells)
        return entries

    def build(self, shop: Shop, record: Bike | None, entries: Entries) -> Bike:
        built = record or Bike(customer=entries["customer"])
        for name in _WORDS:
            setattr(built, name, entries.get(name, getattr(built, name)))
        note_leverage(
            built,
            entries.get("leverage", built.leverage),
            entries.get("leverage_source", built.leverage_source),
            None,
        )
        check(built, exclude=["customer", "leverage_by", "search_text"])
        return built

    def save(self, shop: Shop, record: Bike | None, entries: Entries, by: User | None) -> Bike:
        def value(name: str, empty: Any) -> Any:
            return entries.get(name, getattr(record, name) if record is not None else empty)

        values = {name: value(name, "") for name in (*_WORDS, "leverage_source")}
        values["leverage"] = value("leverage", None)
        if record is None:
            return add_bike(customer=entries["customer"], by=by, **values)
        return edit_bike(bike=record, seen_version=record.version, by=by, **values)

    def emptied(self, names: Sequence[str]) -> Entries:
        return {name: None if name == "leverage" else "" for name in names}
