"""Parts and stock from a CSV file and into one. A dry run does all of it and takes all of it back.

A level is the sum of movements, so the export leaves `counted` empty: a file that comes back later, with other prices,
moves no stock. A count in a file is booked only where it is said yes to apart.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from specs.models import Part
from specs.numbers import NumberRefused, read_number
from specs.parts_editing import PartData, save_part
from specs.value_files import FileRow, UnreadableFile, read_csv, safe_cell
from workshop.staff.models import Shop, User
from workshop.stock.keeping import change_item, keep_part
from workshop.stock.models import StockItem
from workshop.stock.moving import count, level_of
from workshop.web.number_words import plain_price
from workshop.web.versions import take_version

REQUIRED_COLUMNS = ("number", "description")
COLUMNS = (
    *REQUIRED_COLUMNS, "role", "measure", "size", "inside_mm", "section_mm", "stanchion_mm", "bottle_ml",
    "price", "cost", "supplier", "lead_days", "shelf", "reorder_level", "counted",
)  # fmt: skip
MOST_ROWS = 500
_PART_COLUMNS = COLUMNS[:9]
_COUNTED = "counted"
_MILLIMETRES = ("inside_mm", "section_mm", "stanchion_mm")
_MONEY_AND_AMOUNTS = ("bottle_ml", "price", "cost", "reorder_level", "counted")
NEW, CHANGED, UNCHANGED, REFUSED = "new", "changed", "unchanged", "refused"


@dataclass(frozen=True)
class Change:
    """One field of a row: what is stored, and what the file says. Both as text; empty where there is none."""

    column: str
    old: str
    new: str


@dataclass(frozen=True)
class PartFate:
    """What became, or would become, of a row; a refused one says why.

    `count` is the level and the file's count where they differ; it is no part of the fate, as it is asked apart.
    """

    row: FileRow
    fate: str
    reason: str = ""
    changes: tuple[Change, ...] = ()
    count: Change | None = None


@dataclass(frozen=True)
class PartRowPlan:
    """The fate of each row. `digest` stands for the file and these fates; it is what the owner says yes to."""

    rows: tuple[PartFate, ...]
    digest: str

    def count(self, fate: str) -> int:
        return sum(row.fate == fate for row in self.rows)

    @property
    def to_write(self) -> int:
        return self.count(NEW) + self.count(CHANGED)

    @property
    def counts(self) -> list[PartFate]:
        """Rows whose count is not the level that the stores show."""
        return [row for row in self.rows if row.count is not None]


class PartPlanChanged(Exception):
    """What would happen now is not what was shown; nothing was imported. `plan` is the new dry run."""

    def __init__(self, plan: PartRowPlan) -> None:
        super().__init__("The parts changed after the dry run.")
        self.plan = plan


def plan_parts(*, shop: Shop, content: bytes, by: User | None) -> PartRowPlan:
    """A dry run. Raises specs.value_files.UnreadableFile where the file as a whole cannot be read."""
    with transaction.atomic():
        plan = _apply(shop, content, by, with_counts=True)
        transaction.set_rollback(True)
    return plan


def import_parts(*, shop: Shop, content: bytes, digest: str, by: User | None, with_counts: bool = False) -> PartRowPlan:
    """Do what the dry run with this digest showed; rows refused then stay out. Raises PlanChanged, UnreadableFile.

    Args:
        with_counts: book the counts of the file too. Without it no stock moves.
    """
    changed = None
    with transaction.atomic():
        plan = _apply(shop, content, by, with_counts=with_counts)
        if plan.digest != digest:
            transaction.set_rollback(True)
            changed = plan
    if changed is not None:
        raise PartPlanChanged(changed)
    return plan


def export_parts(shop: Shop) -> bytes:
    """Every part of the list with the shop's terms, in the layout that the import reads; two queries.

    `counted` stays empty: it is for what somebody counts on the shelf.
    """
    items = {item.part_id: item for item in StockItem.objects.filter(shop=shop)}
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(COLUMNS)
    for part in Part.objects.order_by("number"):
        writer.writerow([safe_cell(cell) for cell in _cells(part, items.get(part.pk))])
    return sheet.getvalue().encode("utf-8-sig")


def _apply(shop: Shop, content: bytes, by: User | None, *, with_counts: bool) -> PartRowPlan:
    rows = read_csv(content, COLUMNS, REQUIRED_COLUMNS)
    if len(rows) > MOST_ROWS:
        raise UnreadableFile(f"The file has {len(rows):,} parts; at most {MOST_ROWS:,} at once.")
    seen: set[str] = set()
    fates = []
    for row in rows:
        number = row.cells.get("number", "").casefold()
        if number and number in seen:
            fates.append(PartFate(row, REFUSED, "number: this part is in the file twice."))
            continue
        seen.add(number)
        fates.append(_apply_row(shop, row, by, with_counts))
    told = "\n".join(f"{fate.row.place} {fate.fate} {fate.reason} {fate.changes} {fate.count}" for fate in fates)
    return PartRowPlan(tuple(fates), hashlib.sha256(content + told.encode()).hexdigest())


def _apply_row(shop: Shop, row: FileRow, by: User | None, with_counts: bool) -> PartFate:
    if row.fault:
        return PartFate(row, REFUSED, row.fault)
    try:
        with transaction.atomic():
            return _write(shop, row, by, with_counts)
    except ValidationError as refused:
        return PartFate(row, REFUSED, _in_words(refused))


def _write(shop: Shop, row: FileRow, by: User | None, with_counts: bool) -> PartFate:
    """Write one row. An empty cell changes nothing of what is stored. Raises ValidationError."""
    cells = row.cells
    numbers = {name: _number(name, cells.get(name, "")) for name in (*_MILLIMETRES, *_MONEY_AND_AMOUNTS)}
    part = Part.objects.filter(number__iexact=cells.get("number", "")).first()
    before = _standing(shop, part)
    part = save_part(part=part, data=_part_data(part, cells, numbers))
    item = StockItem.objects.filter(shop=shop, part=part).select_related("part").first()
    terms: dict[str, Any] = {name: numbers[name] for name in ("price", "cost", "reorder_level")}
    terms |= {"supplier": cells.get("supplier") or None, "shelf": cells.get("shelf") or None}
    lead_days = _whole("lead_days", cells.get("lead_days", ""))
    wants_place = any(value is not None for value in (*terms.values(), lead_days, numbers[_COUNTED]))
    if item is None and wants_place:
        if terms["price"] is None:
            raise ValidationError({"price": "A part that is to be kept needs a price."})
        item = keep_part(shop=shop, part=part, price=terms["price"], by=by)
    counted = None
    if item is not None and wants_place:
        known = {name: getattr(item, name) if value is None else value for name, value in terms.items()}
        take_version(item, item.version)  # a form that is open meanwhile is told
        change_item(item=item, lead_days=item.lead_days if lead_days is None else lead_days, by=by, **known)
        counted = _counted(item, numbers[_COUNTED])
        if counted is not None and with_counts:
            count(item=item, counted=numbers[_COUNTED] or Decimal(0), by=by, note="Import")
    after = _standing(shop, Part.objects.get(pk=part.pk))
    changes = tuple(
        Change(column, old, new)
        for column, old, new in zip(COLUMNS, before or [""] * len(COLUMNS), after, strict=True)
        if old != new
    )
    return PartFate(row, NEW if not before else CHANGED if changes else UNCHANGED, changes=changes, count=counted)


def _counted(item: StockItem, counted: Decimal | None) -> Change | None:
    """The level and the count, where a row has one that is not the level."""
    level = level_of(item)
    return None if counted in (None, level) else Change(_COUNTED, _text(level), _text(counted))


def _part_data(part: Part | None, cells: Mapping[str, str], numbers: Mapping[str, Decimal | None]) -> PartData:
    known: dict[str, object] = {}
    for name in _PART_COLUMNS:
        stored = getattr(part, name) if part is not None else None
        if name in numbers:
            number = numbers[name]
            new = number if number is None or name == "bottle_ml" else float(number)
        else:
            new = cells.get(name) or None  # type: ignore[assignment]
        value = stored if new is None else new
        if value is not None:
            known[name] = value
    for name in REQUIRED_COLUMNS:
        if not known.get(name):
            raise ValidationError({name: "This cell is empty."})
    return PartData(**known)  # type: ignore[arg-type]


def _standing(shop: Shop, part: Part | None) -> list[str]:
    """All that a row can say of a part, as text, to tell whether it changed."""
    if part is None:
        return []
    item = StockItem.objects.filter(shop=shop, part=part).first()
    return _cells(part, item)


def _cells(part: Part, item: StockItem | None) -> list[str]:
    values = [getattr(part, name) for name in _PART_COLUMNS]
    if item is not None:
        values += [
            plain_price(item.price),
            plain_price(item.cost),
            item.supplier,
            item.lead_days,
            item.shelf,
            item.reorder_level,
        ]
    return ["" if value is None else _text(value) for value in values] + [""] * (len(COLUMNS) - len(values))


def _text(value: object) -> str:
    if isinstance(value, Decimal):
        return f"{value:.2f}"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _number(name: str, text: str) -> Decimal | None:
    if not text:
        return None
    try:
        number = read_number(text, decimals=3 if name in (*_MILLIMETRES, "price", "cost") else 2)  # as the export does
    except NumberRefused as refused:
        raise ValidationError({name: str(refused)}) from None
    if number < 0 or number > 999_999:
        raise ValidationError({name: f"“{text[:20]}” is not from 0 to 999,999."})
    return number


def _whole(name: str, text: str) -> int | None:
    number = _number(name, text)
    if number is not None and number != int(number):
        raise ValidationError({name: "Days are whole."})
    return None if number is None else int(number)


def _in_words(refused: ValidationError) -> str:
    if hasattr(refused, "error_dict"):
        return " ".join(f"{name}: {' '.join(reasons)}" for name, reasons in refused.message_dict.items())
    return " ".join(refused.messages)
