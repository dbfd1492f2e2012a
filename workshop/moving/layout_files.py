"""What comes in again elsewhere: the files that moving in reads, written from what the shop holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import Prefetch

from specs.exporting import exported_values
from specs.models import KitLine, Part, SuspensionModel
from specs.value_files import safe_cell
from specs.value_rows import cells_of as cells_of_value
from workshop.customers.models import Bike, Customer
from workshop.customers.people_there import shared_ways_to_reach
from workshop.moving.kinds import BIKES, CUSTOMERS, KITS, MODELS, PARTS, SUPPLIERS, UNITS, VALUES
from workshop.sheets.kind import SheetKind
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.stock.moving import levels_of
from workshop.stock.part_files import COUNTED, as_text, cells_of_part
from workshop.stock.supplier_models import Supplier
from workshop.suspension.models import Fitting, SuspensionUnit
from workshop.suspension.unit_sheet import note_fitting

AT_ONCE = 1000
Cells = list[str]


@dataclass(frozen=True)
class LayoutFile:
    """A file in the layout of a kind; `batches` gives its rows, some at a time, each asked for by itself."""

    kind: SheetKind
    batches: Callable[[Shop], Iterator[list[Cells]]]

    @property
    def name(self) -> str:
        return f"{self.kind.key}.csv"


def in_batches(rows: models.QuerySet[Any], at_once: int = AT_ONCE) -> Iterator[list[Any]]:
    """Rows by their key, so many in one query: nothing of the database is held between two of them."""
    last = 0
    while batch := list(rows.filter(pk__gt=last).order_by("pk")[:at_once]):
        yield batch
        last = batch[-1].pk


def _rows(kind: SheetKind, records: Sequence[Any], cells: Callable[[Any], dict[str, str]]) -> list[Cells]:
    return [[safe_cell(found.get(column.name, "")) for column in kind.columns] for found in map(cells, records)]


def _suppliers(shop: Shop) -> Iterator[list[Cells]]:
    for batch in in_batches(Supplier.objects.filter(shop=shop)):
        yield _rows(SUPPLIERS, batch, SUPPLIERS.texts)


def _parts(shop: Shop) -> Iterator[list[Cells]]:
    """Of the whole list those that the shop keeps have their terms, and their level as what was counted."""
    for batch in in_batches(Part.objects.all()):
        items = {item.part_id: item for item in StockItem.objects.filter(shop=shop, part__in=batch)}
        levels = levels_of(item.pk for item in items.values())

        def cells(part: Part, items: dict[int, StockItem] = items, levels: dict[int, Any] = levels) -> dict[str, str]:
            item = items.get(part.pk)
            named = dict(zip((column.name for column in PARTS.columns), cells_of_part(part, item), strict=True))
            return named | {COUNTED: as_text(levels.get(item.pk), COUNTED) if item is not None else ""}

        yield _rows(PARTS, batch, cells)


def _customers(shop: Shop) -> Iterator[list[Cells]]:
    """Who shares a phone or an email with another says so, so that both come in elsewhere."""
    shared = shared_ways_to_reach(shop)

    def cells(one: Customer) -> dict[str, str]:
        texts = {**CUSTOMERS.texts(one), "number": str(one.pk)}
        return texts | {"somebody_else": "yes" if shared.intersection(CUSTOMERS.other_keys_of(texts)) else ""}

    for batch in in_batches(Customer.objects.filter(shop=shop)):
        yield _rows(CUSTOMERS, batch, cells)


def _bikes(shop: Shop) -> Iterator[list[Cells]]:
    for batch in in_batches(Bike.objects.filter(customer__shop=shop).select_related("customer")):
        yield _rows(BIKES, batch, lambda one: {**BIKES.texts(one), "number": str(one.pk), **_owner(one.customer)})


def _units(shop: Shop) -> Iterator[list[Cells]]:
    now_on = Prefetch("fittings", Fitting.objects.filter(until__isnull=True).select_related("bike"), to_attr="now_on")
    units = SuspensionUnit.objects.filter(shop=shop).select_related("customer", "model").prefetch_related(now_on)
    for batch in in_batches(units):
        yield _rows(UNITS, batch, _unit)


def _unit(unit: SuspensionUnit) -> dict[str, str]:
    fitting = next(iter(unit.now_on), None)  # type: ignore[attr-defined]
    note_fitting(unit, None if fitting is None else (fitting.bike, fitting.since))
    bike = {} if fitting is None else {"bike_number": str(fitting.bike_id)}
    return {**UNITS.texts(unit), "number": str(unit.pk), **_owner(unit.customer), **bike}


def _owner(customer: Customer) -> dict[str, str]:
    return {"customer_number": str(customer.pk), "customer_name": customer.name}


def _models(shop: Shop) -> Iterator[list[Cells]]:
    for batch in in_batches(SuspensionModel.objects.all()):
        yield _rows(MODELS, batch, MODELS.texts)


def _values(shop: Shop) -> Iterator[list[Cells]]:
    for batch in in_batches(exported_values()):
        yield _rows(VALUES, batch, cells_of_value)


def _kits(shop: Shop) -> Iterator[list[Cells]]:
    for batch in in_batches(KitLine.objects.select_related("kit__model", "part")):
        yield _rows(KITS, batch, KITS.texts)


LAYOUT_FILES = (
    LayoutFile(MODELS, _models),
    LayoutFile(VALUES, _values),
    LayoutFile(SUPPLIERS, _suppliers),
    LayoutFile(PARTS, _parts),
    LayoutFile(KITS, _kits),
    LayoutFile(CUSTOMERS, _customers),
    LayoutFile(BIKES, _bikes),
    LayoutFile(UNITS, _units),
)
