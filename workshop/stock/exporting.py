"""Everything of the stores as CSV: movements, orders and kits. Parts and stock are in workshop.stock.part_files."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.db.models import Sum
from django.utils import timezone

from specs.models import KitLine
from specs.value_files import safe_cell
from workshop.staff.models import Shop
from workshop.stock.models import StockMovement
from workshop.stock.purchase_models import OrderLine
from workshop.web.number_words import figures, plain_price

MOVEMENT_COLUMNS = (
    "at", "number", "description", "measure", "kind", "quantity", "then_there", "ticket", "order", "note", "by",
)  # fmt: skip
ORDER_COLUMNS = (
    "order", "supplier", "ordered_on", "expected_on", "closed_on", "number", "description", "measure", "ordered",
    "came", "cost_each", "note",
)  # fmt: skip
KIT_COLUMNS = ("maker", "model", "year_from", "level", "number", "description", "quantity", "measure", "note")


def movements_csv(shop: Shop) -> bytes:
    """Every movement in the order it was written, with what was there after it; one query."""
    movements = StockMovement.objects.filter(item__shop=shop).order_by("pk")
    movements = movements.select_related("item__part", "part_line__ticket", "order_line__order", "by")
    there: dict[int, Decimal] = defaultdict(Decimal)
    rows = []
    for movement in movements:
        there[movement.item_id] += movement.quantity
        part, line, ordered = movement.item.part, movement.part_line, movement.order_line
        rows.append(
            (
                timezone.localtime(movement.at).isoformat(timespec="seconds"), part.number, part.description,
                part.get_measure_display(), movement.get_kind_display(), figures(movement.quantity),
                figures(there[movement.item_id]), line.ticket.number if line else "",
                ordered.order.number if ordered else "", movement.note, movement.by or "",
            )
        )  # fmt: skip
    return _sheet(MOVEMENT_COLUMNS, rows)


def orders_csv(shop: Shop) -> bytes:
    """Every line of every order, and how much of it came; one query."""
    lines = OrderLine.objects.filter(order__shop=shop).select_related("order", "item__part").order_by("order", "pk")
    rows = []
    for line in lines.annotate(came=Sum("movements__quantity")):
        order, part = line.order, line.item.part
        rows.append(
            (
                order.number, order.supplier, _day(order.ordered_at), order.expected_on or "", _day(order.closed_at),
                part.number, part.description, part.get_measure_display(), figures(line.ordered),
                figures(line.came or Decimal(0)), plain_price(line.cost), order.note,
            )
        )  # fmt: skip
    return _sheet(ORDER_COLUMNS, rows)


def kits_csv() -> bytes:
    """Every part of every service kit; one query."""
    lines = KitLine.objects.select_related("kit__model", "part").order_by("kit__model", "kit__level", "pk")
    rows = [
        (
            line.kit.model.maker, line.kit.model.name, line.kit.model.year_from, line.kit.level, line.part.number,
            line.part.description, figures(line.quantity), line.part.get_measure_display(), line.note,
        )
        for line in lines
    ]  # fmt: skip
    return _sheet(KIT_COLUMNS, rows)


def _day(moment: dt.datetime | None) -> dt.date | str:
    return "" if moment is None else timezone.localdate(moment)


def _sheet(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with a byte order mark, as spreadsheets want it; no cell of words is run as a formula."""
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(columns)
    for row in rows:
        writer.writerow(
            [safe_cell(cell) if isinstance(cell, str) and not _is_figure(cell) else str(cell) for cell in row]
        )
    return sheet.getvalue().encode("utf-8-sig")


def _is_figure(cell: str) -> bool:
    """A movement out is below zero and begins with a minus, which is no formula."""
    return cell.removeprefix("-").replace(".", "", 1).isdecimal()
