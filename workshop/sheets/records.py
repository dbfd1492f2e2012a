"""A kind of sheet whose rows are records that stand for themselves: customers, bikes, suppliers and their like.

What a row would do is worked out on a copy that is not saved, so a thousand rows are looked at in a few queries.
"""

from __future__ import annotations

import datetime as dt
from abc import abstractmethod
from collections.abc import Mapping, Sequence
from copy import copy
from decimal import Decimal
from typing import Any, Generic, Protocol, TypeVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import ProtectedError
from django_stubs_ext import StrOrPromise

from specs.numbers import NumberRefused, read_number
from workshop.sheets.kind import SheetKind
from workshop.sheets.models import OldNumber, SheetRow
from workshop.sheets.steps import sheet_refusal_in_words
from workshop.sheets.table import tidy
from workshop.staff.models import Shop, User
from workshop.web.versions import StaleVersion

Record = TypeVar("Record", bound=models.Model)
Cells = Mapping[str, str]
Entries = dict[str, Any]
Fate = SheetRow.Fate
BRING_AGAIN = "Bring the file in again to see how it is now."
MOVED_ON = f"It changed after you looked at it, so it is as it was. {BRING_AGAIN}"
_KEPT_BY_ITSELF = {"DueUnit", "UnitChanged", "LastVisit", "StockLevel", "TicketWords"}
YES, _NO = {"yes", "y", "true", "1", "x", "ja", "oui"}, {"no", "n", "false", "0", "nein", "non"}


class There(Protocol[Record]):
    """What is stored that rows could be about, read in a fixed number of queries."""

    def match(self, cells: Cells) -> Record | None:
        """The record that a row is about; None for a new one. Raises ValidationError where it could be several."""

    def customer_of(self, cells: Cells, record: Record | None) -> int | None:
        """The customer whom a row is about, so that it is erased with them."""

    def learn(self, record: Record, number: str) -> None:
        """That a row made a record, or named one by a number: the rows after it may be about it."""


class RecordSheet(SheetKind, Generic[Record]):
    """Attributes:
    old_number: whose old numbers the column `number` keeps; empty where the kind has none.
    """

    old_number: str = ""
    rows_at_once = 40

    @abstractmethod
    def there(self, shop: Shop, rows: Sequence[Cells]) -> There[Record]: ...

    @abstractmethod
    def texts(self, record: Record) -> dict[str, str]:
        """A record as the file would have it, by column; those that only point at it or ask are left out."""

    @abstractmethod
    def entries(self, shop: Shop, cells: Cells, there: Any, record: Record | None) -> Entries:
        """What the cells of a row say, read; an empty cell says nothing. Raises ValidationError by column."""

    @abstractmethod
    def build(self, shop: Shop, record: Record | None, entries: Entries) -> Record:
        """A copy as it would be, not saved. Raises ValidationError where it cannot be."""

    @abstractmethod
    def save(self, shop: Shop, record: Record | None, entries: Entries, by: User | None) -> Record:
        """Write it, by the same functions as the screens. Raises ValidationError or StaleVersion."""

    @abstractmethod
    def get(self, shop: Shop, pk: int) -> Record | None: ...

    @abstractmethod
    def emptied(self, names: Sequence[str]) -> Entries:
        """Entries that empty these columns, where a row is taken back."""

    not_put_back: frozenset[str] = frozenset()  # columns that stay where something else stood there before
    came_with: frozenset[str] = frozenset()  # models whose rows were made with a record, and go with it

    def remove(self, shop: Shop, record: Record) -> None:
        """Take away what the sheet made. Nothing points at it but what came with it."""
        record.delete()

    def uses(self, shop: Shop, record: Record) -> list[str]:
        """What points at a record that the sheet made, in words; empty where nothing does."""
        return used_by(record, self.came_with)

    def look(self, *, shop: Shop, rows: Sequence[SheetRow], by: User | None) -> int:
        there = self.there(shop, [row.cells for row in rows])
        known = self._known_numbers(shop, rows)
        for row in rows:
            try:
                self._say(shop, row, there, known)
            except ValidationError as refused:
                row.fate, row.reason = Fate.REFUSED, sheet_refusal_in_words(refused)
        return len(rows)

    def begin_step(self, *, shop: Shop, rows: Sequence[SheetRow]) -> Any:
        return self.there(shop, [row.cells for row in rows])

    def write(self, *, shop: Shop, row: SheetRow, by: User | None, with_counts: bool, asked: Any) -> None:
        there: There[Record] = asked
        record = _match(there, row)
        if record is not None and row.before.get("pk") is None:
            raise ValidationError(
                f"This changed after you looked at it: {record} is here by now, perhaps by a row before. {BRING_AGAIN}"
            )
        if (record.pk if record is not None else None) != row.before.get("pk"):
            raise ValidationError(MOVED_ON)
        if record is not None and self.texts(record) != row.before["texts"]:
            raise ValidationError(MOVED_ON)
        entries = self.entries(shop, row.cells, there, record)
        try:
            saved = self.save(shop, copy(record) if record is not None else None, entries, by)
        except StaleVersion:
            raise ValidationError(MOVED_ON) from None
        row.about = there.customer_of(row.cells, saved)
        number = row.cells.get("number", "")
        made = False
        if self.old_number and number:
            _, made = OldNumber.objects.get_or_create(
                shop=shop, thing=self.old_number, number=number, defaults={"record": saved.pk}
            )
        there.learn(saved, number)
        row.after = {"pk": saved.pk, "texts": self.texts(saved), "numbered": made}

    def take_back(self, *, shop: Shop, row: SheetRow, by: User | None) -> str:
        record = self.get(shop, row.after["pk"])
        if record is None:
            return ""
        if row.fate == Fate.NEW:
            if self.texts(record) != row.after["texts"]:
                return "Somebody changed it since, so it stays."
            if where := self.uses(shop, record):
                return f"It was used since ({', '.join(where)}), so it stays."
            try:
                self.remove(shop, record)
            except ProtectedError:
                return "It was used since, so it stays."
        else:
            stays = self._restore(shop, row, record, by)
            if stays:
                return f"Changed since, so it stays: {', '.join(stays)}."
        if row.after.get("numbered"):
            OldNumber.objects.filter(shop=shop, thing=self.old_number, number=row.cells["number"]).delete()
        return ""

    def _restore(self, shop: Shop, row: SheetRow, record: Record, by: User | None) -> list[str]:
        """Put back each cell that the row changed; the columns that somebody changed since are returned."""
        now, before, after = self.texts(record), row.before["texts"], row.after["texts"]
        moved = [name for name in after if after[name] != before.get(name, "")]
        stays = [name for name in moved if now.get(name) not in (after[name], before.get(name, ""))]
        stays += [name for name in moved if name in self.not_put_back and before.get(name) and name not in stays]
        back = [name for name in moved if name not in stays and now.get(name) != before.get(name, "")]
        if back:
            # What did not change says the same again: some cells are read together, as maker and model are.
            left_out = {*stays, *self.not_put_back}
            cells = {name: text for name, text in before.items() if text and name not in left_out}
            there = self.there(shop, [cells])
            entries = self.entries(shop, cells, there, record) if cells else {}
            self.save(shop, copy(record), entries | self.emptied([name for name in back if not before.get(name)]), by)
        return stays

    def _say(self, shop: Shop, row: SheetRow, there: There[Record], known: Mapping[str, int]) -> None:
        for column in self.columns:
            if column.required and not row.cells.get(column.name):
                raise ValidationError({column.name: "This cell is empty."})
        record = _match(there, row)
        row.about = there.customer_of(row.cells, record)
        entries = self.entries(shop, row.cells, there, record)
        before = self.texts(record) if record is not None else {}
        after = self.texts(self.build(shop, copy(record) if record is not None else None, entries))
        row.changes = [
            [name, before.get(name, ""), text] for name, text in after.items() if text != before.get(name, "")
        ]
        number = row.cells.get("number", "")
        if self.old_number and number and number not in known:
            row.changes = [["number", "", number], *row.changes]
        row.fate = Fate.NEW if record is None else Fate.CHANGED if row.changes else Fate.UNCHANGED
        row.before = {"pk": None, "texts": {}} if record is None else {
            "pk": record.pk, "texts": before, "is": str(record)[:120],
        }  # fmt: skip

    def _known_numbers(self, shop: Shop, rows: Sequence[SheetRow]) -> Mapping[str, int]:
        return known_numbers(shop, self.old_number, [row.cells.get("number", "") for row in rows])


def _match(there: There[Record], row: SheetRow) -> Record | None:
    """What a row is about; None where it is new, or a person said that it is another."""
    return None if row.is_another else there.match(row.cells)


def known_numbers(shop: Shop, thing: str, numbers: Sequence[str]) -> dict[str, int]:
    """The keys of what was brought in under these numbers; no query where there is none."""
    wanted = {number for number in numbers if number}
    if not thing or not wanted:
        return {}
    found = OldNumber.objects.filter(shop=shop, thing=thing, number__in=wanted)
    return dict(found.values_list("number", "record"))


def other_numbers(
    shop: Shop, thing: str, rows: Sequence[Cells], records: Sequence[models.Model]
) -> dict[int, set[str]]:
    """Under which numbers records came in, by their key. One query where a row has a number, none otherwise."""
    found: dict[int, set[str]] = {}
    if any(cells.get("number") for cells in rows):
        kept = OldNumber.objects.filter(shop=shop, thing=thing, record__in=[record.pk for record in records])
        for record, number in kept.values_list("record", "number"):
            found.setdefault(record, set()).add(number)
    return found


def is_another(numbers: Mapping[int, set[str]], record: models.Model, number: str) -> bool:
    """Whether a record came in under another number than a row has: where the file is from, they were two."""
    return bool(number) and bool(numbers.get(record.pk)) and number not in numbers[record.pk]


def used_by(record: models.Model, but: frozenset[str]) -> list[str]:
    """What points at a record, in words; what the database keeps by itself, and the models `but`, are no use of it."""
    return sorted(
        str(relation.related_model._meta.verbose_name_plural)
        for relation in record._meta.get_fields(include_hidden=True)
        if isinstance(relation, models.ForeignObjectRel)
        and not relation.many_to_many
        and relation.related_model.__name__ not in _KEPT_BY_ITSELF | but
        and relation.related_model._base_manager.filter(**{relation.field.name: record.pk}).exists()
    )


def check(record: models.Model, exclude: Sequence[str]) -> None:
    """Its fields by themselves; no query. Raises ValidationError by column."""
    record.clean_fields(exclude=exclude)


def number_in(cells: Cells, name: str, *, decimals: int, low: float, high: float) -> Decimal | None:
    """A number of a cell; None where it is empty. Raises ValidationError."""
    text = cells.get(name, "")
    if not text:
        return None
    try:
        number = read_number(text, decimals=decimals)
    except NumberRefused as refused:
        raise ValidationError({name: str(refused)}) from None
    if not low <= number <= high:
        raise ValidationError({name: f"“{text[:20]}” is not from {low:,g} to {high:,g}."})
    return number


def yes_or_no(cells: Cells, name: str) -> bool | None:
    text = cells.get(name, "").casefold()
    if text and text not in YES | _NO:
        raise ValidationError({name: f"“{text[:20]}” is neither yes nor no."})
    return text in YES if text else None


def choice_in(cells: Cells, name: str, choices: Sequence[tuple[str, StrOrPromise]]) -> str:
    """A cell that is one of a few, by its key or its words; "" where it is empty."""
    text = cells.get(name, "").casefold()
    for key, words in choices:
        if text and text in (key.casefold(), str(words).casefold()):
            return key
    if text:
        raise ValidationError({name: f"“{text[:20]}” is none of {', '.join(key for key, _ in choices if key)}."})
    return ""


def day_in(cells: Cells, name: str) -> dt.date | None:
    """A day written year first, or day first with points. Raises ValidationError."""
    text = cells.get(name, "")
    if not text:
        return None
    for layout in ("%Y-%m-%d", "%d.%m.%Y"):
        try:
            return dt.datetime.strptime(text[:10], layout).date()  # noqa: DTZ007  a day has no zone
        except ValueError:
            continue
    raise ValidationError({name: f"“{text[:20]}” is no day. Write it as 2026-03-31."})


def said(cells: Cells, names: Sequence[str]) -> Entries:
    """The cells of words that are filled."""
    return {name: tidy(cells[name]) for name in names if cells.get(name)}
