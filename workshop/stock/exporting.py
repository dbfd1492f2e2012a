"""Everything of the stores as CSV, in pieces: movements, orders, kits. Parts and stock: workshop.stock.part_files."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal

from django.db.models import Sum
from django.utils import timezone

from specs.models import KitLine
from specs.value_files import safe_cell
from workshop.staff.models import Shop
from workshop.stock.purchase_models import OrderLine
from workshop.stock.shops_movements import shops_movements
from workshop.web.large_csv import csv_pieces
from workshop.web.number_words import figures, plain_price

MOVEMENT_COLUMNS = (
    "at", "number", "description", "measure", "kind", "quantity", "then_there", "ticket", "order", "note", "by",
)  # fmt: skip
ORDER_COLUMNS = (
    "order", "supplier", "ordered_on", "expected_on", "closed_on", "number", "description", "measure", "ordered",
    "came", "cost_each", "note",
)  # fmt: skip
AT_ONCE = 500
"""Rows that are read from the database at a time."""
KIT_COLUMNS = ("maker", "model", "year_from", "level", "number", "description", "quantity", "measure", "note")


def movements_csv(shop: Shop) -> Iterator[bytes]:
    """Every movement in the order it was written, with what was there after it; one query, on PostgreSQL two."""
    return _sheet(MOVEMENT_COLUMNS, _movements(shop))


def _movements(shop: Shop) -> Iterator[Sequence[object]]:
    movements = shops_movements(shop).order_by("pk")
    movements = movements.select_related("item__part", "part_line__ticket", "order_line__order", "by")
    there: dict[int, Decimal] = defaultdict(Decimal)
    for movement in movements.iterator(AT_ONCE):
        there[movement.item_id] += movement.quantity
        part, line, ordered = movement.item.part, movement.part_line, movement.order_line
        yield (
            timezone.localtime(movement.at).isoformat(timespec="seconds"), part.number, part.description,
            part.get_measure_display(), movement.get_kind_display(), figures(movement.quantity),
            figures(there[movement.item_id]), line.ticket.number if line else "",
            ordered.order.number if ordered else "", movement.note, movement.by or "",
        )  # fmt: skip


def orders_csv(shop: Shop) -> Iterator[bytes]:
    """Every line of every order, and how much of it came; one query."""
    return _sheet(ORDER_COLUMNS, _order_lines(shop))


def _order_lines(shop: Shop) -> Iterator[Sequence[object]]:
    lines = OrderLine.objects.filter(order__shop=shop).select_related("order", "item__part").order_by("order", "pk")
    for line in lines.annotate(came=Sum("movements__quantity")).iterator(AT_ONCE):
        order, part = line.order, line.item.part
        yield (
            order.number, order.supplier, _day(order.ordered_at), order.expected_on or "", _day(order.closed_at),
            part.number, part.description, part.get_measure_display(), figures(line.ordered),
            figures(line.came or Decimal(0)), plain_price(line.cost), order.note,
        )  # fmt: skip


def kits_csv() -> Iterator[bytes]:
    """Every part of every service kit; one query."""
    lines = KitLine.objects.select_related("kit__model", "part").order_by("kit__model", "kit__level", "pk")
    rows = (
        (
            line.kit.model.maker, line.kit.model.name, line.kit.model.year_from, line.kit.level, line.part.number,
            line.part.description, figures(line.quantity), line.part.get_measure_display(), line.note,
        )
        for line in lines.iterator(AT_ONCE)
    )  # fmt: skip
    return _sheet(KIT_COLUMNS, rows)


def _day(moment: dt.datetime | None) -> dt.date | str:
    return "" if moment is None else timezone.localdate(moment)


def _sheet(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[bytes]:
    """No cell of words is run as a formula."""
    safe = ([text if _is_figure(text) else safe_cell(text) for text in map(str, row)] for row in rows)
    return csv_pieces(columns, safe)


def _is_figure(cell: str) -> bool:
    """A movement out is below zero and begins with a minus, which is no formula."""
    return cell.removeprefix("-").replace(".", "", 1).isdecimal()
