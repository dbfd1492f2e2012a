"""Parts and the shop's terms for them from a sheet.

A level is the sum of movements, so the export leaves `counted` empty: a file that comes back later, with other prices,
moves no stock. A count in a file is booked only where it is said yes to apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError, Q
from django.db.models.functions import Lower

from specs.models import Part
from specs.numbers import NumberRefused, read_number
from specs.parts_editing import PartData, delete_part, save_part
from workshop.sheets import steps
from workshop.sheets.kind import SheetKind
from workshop.sheets.models import SheetRow
from workshop.sheets.steps import sheet_refusal_in_words
from workshop.staff.models import Shop, User
from workshop.stock.keeping import change_item, keep_part
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.moving import NOTHING, NotEnoughInStock, correct_by, count, levels_of
from workshop.stock.part_files import (
    COLUMNS,
    COUNTED,
    LAYOUT,
    MILLIMETRES,
    PART_COLUMNS,
    REQUIRED_COLUMNS,
    TERMS,
    as_text,
    cells_of_part,
)
from workshop.web.versions import take_version

_MONEY_AND_AMOUNTS = ("bottle_ml", "price", "cost", "reorder_level", COUNTED)
_NUMBERS = (*MILLIMETRES, *_MONEY_AND_AMOUNTS)
Fate = SheetRow.Fate
MOVED_ON = "It changed after you looked at it, so it is as it was. Bring the file in again to see how it is now."


@dataclass(frozen=True)
class _There:
    """What is stored for a row: the part, its place in the stores and its level, as far as there is one."""

    part: Part | None
    item: StockItem | None
    level: Decimal

    @property
    def texts(self) -> list[str]:
        """As the file would have it; empty for a part that is not there."""
        return cells_of_part(self.part, self.item) if self.part is not None else []


NOT_THERE = _There(None, None, NOTHING)


class PartSheet(SheetKind):
    key = "parts"
    title = "Parts and stock"
    columns = LAYOUT
    shown = ("number", "description")
    key_column = "number"
    thing = "part"

    def look(self, *, shop: Shop, rows: Sequence[SheetRow], by: User | None) -> int:
        there = _there_of(shop, [row.cells.get("number", "") for row in rows])
        tried = 0
        for place, row in enumerate(rows):
            stored = there.get(row.cells.get("number", "").casefold(), NOT_THERE)
            try:
                numbers = _read(row.cells, stored.texts)
                if not _says_otherwise(row.cells, numbers, stored.texts):
                    row.fate = Fate.UNCHANGED
                    _say_count(row, numbers, stored)
                    continue
                if tried == steps.ROWS_WRITTEN_AT_ONCE:
                    return place
                tried += 1
                _try(shop, row, stored, numbers, by)
            except ValidationError as refused:
                row.fate, row.reason = Fate.REFUSED, sheet_refusal_in_words(refused)
        return len(rows)

    def write(self, *, shop: Shop, row: SheetRow, by: User | None, with_counts: bool, asked: Any) -> None:
        stored = _one_there(shop, row, locked=True)
        if row.fate != Fate.UNCHANGED and stored.texts != row.before.get("texts", []):
            raise ValidationError(MOVED_ON)
        numbers = _read(row.cells, stored.texts)
        item = stored.item
        if row.fate != Fate.UNCHANGED:
            item = _apply(shop, stored, row.cells, numbers, by)
        counted, moved = numbers[COUNTED], None
        if with_counts and row.counts and item is not None and counted is not None:
            if as_text(stored.level, COUNTED) != row.count[0]:
                raise ValidationError(
                    f"Its level is {as_text(stored.level, COUNTED)} now, so the count was not booked. {MOVED_ON}"
                )
            moved = count(item=item, counted=counted, by=by, note="Import")
        now = _one_there(shop, row)
        row.after = {
            "values": _stored_values(now),
            "kept_before": stored.item is not None,
            "movement": moved.pk if moved is not None else None,
        }

    def take_back(self, *, shop: Shop, row: SheetRow, by: User | None) -> str:
        now = _one_there(shop, row, locked=True)
        if now.part is None:
            return ""
        movement, stays = row.after["movement"], list[str]()
        if now.item is not None and not row.after["kept_before"]:
            try:
                with transaction.atomic():
                    _take_off(now.item, movement)
                    now = replace(now, item=None)
            except ProtectedError:
                stays.append("its place in the stores, which is in use")
        if now.item is not None and movement is not None:
            moved = StockMovement.objects.get(pk=movement).quantity
            try:
                correct_by(item=now.item, difference=-moved, by=by, note="Import taken back")
            except NotEnoughInStock:
                stays.append("its count, as less is there now")
        if row.fate == Fate.NEW and now.item is None and now.part is not None:
            delete_part(now.part)
        elif row.fate == Fate.CHANGED:
            stays += _restore(row, now, by)
        return f"Changed or used since, so it stays: {', '.join(stays)}." if stays else ""


def _there_of(shop: Shop, numbers: Sequence[str], *, locked: bool = False) -> dict[str, _There]:
    """What is stored of several parts, by number in small letters; three queries. `locked` holds what is kept."""
    folded = Part.objects.annotate(folded=Lower("number"))  # SQLite folds plain letters only; others as they stand
    named = folded.filter(Q(number__in=numbers) | Q(folded__in=[number.lower() for number in numbers]))
    parts = {part.number.casefold(): part for part in named}
    items = StockItem.objects.filter(shop=shop, part__in=[part.pk for part in parts.values()]).select_related("part")
    if locked:
        items = items.select_for_update(of=("self",), no_key=True)
    by_part = {item.part_id: item for item in items}
    levels = levels_of([item.pk for item in by_part.values()])
    return {
        key: _There(part, item, levels.get(item.pk, NOTHING) if item is not None else NOTHING)
        for key, part in parts.items()
        for item in [by_part.get(part.pk)]
    }


def _one_there(shop: Shop, row: SheetRow, *, locked: bool = False) -> _There:
    number = row.cells.get("number", "")
    return _there_of(shop, [number], locked=locked).get(number.casefold(), NOT_THERE)


def _read(cells: Mapping[str, str], stored: Sequence[str]) -> dict[str, Decimal | None]:
    """The numbers of a row. A cell that says what is stored, letter by letter, says that. Raises ValidationError."""
    same = dict(zip(COLUMNS, stored, strict=False))
    return {name: _number(name, cells.get(name, ""), same.get(name, "")) for name in _NUMBERS}


def _says_otherwise(cells: Mapping[str, str], numbers: Mapping[str, Decimal | None], stored: Sequence[str]) -> bool:
    """Whether a cell that is filled is not what is stored."""
    for column, old in zip(COLUMNS, stored or [""] * len(COLUMNS), strict=True):
        cell = cells.get(column, "")
        if not cell or cell == old or column == COUNTED:
            continue
        number = numbers.get(column)
        if number is None or as_text(number if column not in MILLIMETRES else float(number), column) != old:
            return True
    return not stored


def _say_count(row: SheetRow, numbers: Mapping[str, Decimal | None], stored: _There) -> None:
    counted = numbers[COUNTED]
    if counted is None:
        return
    if stored.item is None and not row.cells.get("price"):
        raise ValidationError({"price": "A part that is to be kept needs a price."})
    if counted != stored.level:
        row.counts, row.count = True, [as_text(stored.level, COUNTED), as_text(counted, COUNTED)]


def _try(shop: Shop, row: SheetRow, stored: _There, numbers: Mapping[str, Decimal | None], by: User | None) -> None:
    """Do the row, see what it did, and take it back at once."""
    with transaction.atomic():
        _apply(shop, stored, row.cells, numbers, by)
        after = _one_there(shop, row).texts
        transaction.set_rollback(True)
    before = stored.texts or [""] * len(COLUMNS)
    row.changes = [[column, old, new] for column, old, new in zip(COLUMNS, before, after, strict=True) if old != new]
    row.fate = Fate.NEW if not stored.texts else Fate.CHANGED if row.changes else Fate.UNCHANGED
    row.before = {"texts": stored.texts, "values": _stored_values(stored)}
    _say_count(row, numbers, stored)


def _apply(
    shop: Shop, stored: _There, cells: Mapping[str, str], numbers: Mapping[str, Decimal | None], by: User | None
) -> StockItem | None:
    """Write one row. An empty cell changes nothing of what is stored. Raises ValidationError."""
    terms: dict[str, Any] = {name: numbers[name] for name in ("price", "cost", "reorder_level")}
    terms |= {"supplier": cells.get("supplier") or None, "shelf": cells.get("shelf") or None}
    terms["lead_days"] = _whole("lead_days", cells.get("lead_days", ""))
    part = _saved(copy(stored.part), _part_data(stored.part, cells, numbers))
    given = {name: value for name, value in terms.items() if value is not None}
    if stored.item is not None:
        return _with_terms(copy(stored.item), given, by) if given else stored.item
    if not given and numbers[COUNTED] is None:
        return None
    if "price" not in given:
        raise ValidationError({"price": "A part that is to be kept needs a price."})
    return keep_part(shop=shop, part=part, by=by, **given)


def _saved(part: Part | None, data: PartData) -> Part:
    """The part with what is known of it now; a form that is open meanwhile is told."""
    if part is not None and all(getattr(part, name) == value for name, value in asdict(data).items()):
        return part
    return save_part(part=take_version(part, part.version) if part is not None else None, data=data)


def _with_terms(item: StockItem, terms: Mapping[str, Any], by: User | None) -> StockItem:
    known = {name: getattr(item, name) for name in TERMS}
    if known == known | dict(terms):
        return item
    take_version(item, item.version)  # a form that is open meanwhile is told
    return change_item(item=item, by=by, **(known | dict(terms)))


def _part_data(part: Part | None, cells: Mapping[str, str], numbers: Mapping[str, Decimal | None]) -> PartData:
    known: dict[str, Any] = {name: getattr(part, name) for name in PART_COLUMNS} if part is not None else {}
    for name in PART_COLUMNS:
        number = numbers.get(name)
        if name in MILLIMETRES:
            if number is not None and (part is None or as_text(float(number), name) != as_text(known[name], name)):
                known[name] = float(number)
        elif name in _NUMBERS:
            if number is not None:
                known[name] = number
        elif cells.get(name):
            known[name] = cells[name]
    for name in REQUIRED_COLUMNS:
        if not known.get(name):
            raise ValidationError({name: "This cell is empty."})
    return PartData(**{name: value for name, value in known.items() if value is not None})


def _number(name: str, text: str, stored: str) -> Decimal | None:
    if not text:
        return None
    if text == stored:
        return Decimal(text)  # as the export has it
    try:
        number = read_number(text, decimals=3 if name in MILLIMETRES else 2)
    except NumberRefused as refused:
        raise ValidationError({name: str(refused)}) from None
    if number < 0 or number > 999_999:
        raise ValidationError({name: f"“{text[:20]}” is not from 0 to 999,999."})
    return number


def _whole(name: str, text: str) -> int | None:
    number = _number(name, text, "")
    if number is not None and number != int(number):
        raise ValidationError({name: "Days are whole."})
    return None if number is None else int(number)


def _stored_values(there: _There) -> dict[str, Any]:
    """What a sheet can change, to the last figure; as JSON."""
    part = {name: getattr(there.part, name) for name in PART_COLUMNS} if there.part is not None else {}
    terms = {name: getattr(there.item, name) for name in TERMS} if there.item is not None else {}
    return {name: str(value) if isinstance(value, Decimal) else value for name, value in (part | terms).items()}


def _restored(stays: list[str], name: str, now: object, after: object, before: object) -> object:
    """What was there before, unless somebody changed it since: that stays, and is named."""
    if before == after or now == before:
        return now
    if now != after:
        stays.append(name)
        return now
    return before


def _restore(row: SheetRow, now: _There, by: User | None) -> list[str]:
    """Put back each value that the row changed; the columns that somebody changed since stay, and are returned."""
    stays: list[str] = []
    values, before, after = _stored_values(now), row.before["values"], row.after["values"]
    back = {name: _restored(stays, name, value, after.get(name), before.get(name)) for name, value in values.items()}
    decimals = {"bottle_ml", "price", "cost", "reorder_level"}
    typed: dict[str, Any] = {
        name: Decimal(str(value)) if name in decimals and value is not None else value for name, value in back.items()
    }
    if now.part is not None:
        _saved(copy(now.part), PartData(**{name: typed[name] for name in PART_COLUMNS}))
    if now.item is not None and row.after["kept_before"]:
        _with_terms(copy(now.item), {name: typed[name] for name in TERMS}, by)
    return stays


def _take_off(item: StockItem, movement: int | None) -> None:
    """A place in the stores that came with the sheet. Raises ProtectedError where anything else points at it."""
    if movement is not None:
        item.movements.filter(pk=movement).delete()
    item.price_changes.all().delete()
    item.delete()
