"""Parts and stock as a CSV file, in the layout that the import reads; the import is in workshop.stock.part_sheet."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import islice

from specs.models import Part
from specs.value_files import safe_cell
from workshop.sheets.columns import Column
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.web.large_csv import csv_pieces
from workshop.web.number_words import plain_price

REQUIRED_COLUMNS = ("number", "description")
COLUMNS = (
    *REQUIRED_COLUMNS, "role", "measure", "size", "inside_mm", "section_mm", "stanchion_mm", "bottle_ml",
    "price", "cost", "supplier", "lead_days", "shelf", "reorder_level", "counted",
)  # fmt: skip
LAYOUT = (
    Column("number", "The shop’s own number", ("part number", "article", "sku", "item", "artikelnummer"), required=True,
           sample="W-35"),
    Column("description", "What it is", ("name", "title", "text", "bezeichnung"), required=True, sample="Wiper, 35 mm"),
    Column("role", "What it does in a fork or shock", ("type", "group"), unit=", ".join(Part.Role.values),
           sample="wiper"),
    Column("measure", "How it is counted", ("unit", "einheit"), unit="piece or ml", sample="piece"),
    Column("size", "Its size in words"),
    Column("inside_mm", "O-ring: inside diameter", ("inside diameter",), decimals=3, unit="mm"),
    Column("section_mm", "O-ring: thickness", ("thickness",), decimals=3, unit="mm"),
    Column("stanchion_mm", "Seal: stanchion", ("stanchion",), decimals=3, unit="mm", sample="35"),
    Column("bottle_ml", "What a bottle holds", ("bottle",), decimals=2, unit="ml"),
    Column("price", "Sold at, each piece or ml", ("sales price", "preis"), decimals=2, unit="the shop’s currency",
           sample="11.50"),
    Column("cost", "Bought at, each piece or ml", ("purchase price", "einkaufspreis"), decimals=2,
           unit="the shop’s currency", sample="6.90"),
    Column("supplier", "Where it is bought", ("vendor", "lieferant"), points_at="suppliers.csv, name", sample="North"),
    Column("lead_days", "Days until it comes", ("lead time",), decimals=2, unit="days", sample="4"),
    Column("shelf", "Where it lies", ("location", "bin", "lagerort"), sample="B2"),
    Column("reorder_level", "Order again from here", ("minimum", "reorder point"), decimals=2, unit="pieces or ml",
           sample="2"),
    Column("counted", "What was counted on the shelf", ("stock", "quantity", "on hand", "bestand"), decimals=2,
           unit="pieces or ml", sample="9"),
)  # fmt: skip
PART_COLUMNS = COLUMNS[:9]
COUNTED = "counted"
MILLIMETRES = ("inside_mm", "section_mm", "stanchion_mm")
AT_ONCE = 500
TERMS = ("price", "cost", "supplier", "lead_days", "shelf", "reorder_level")


def export_parts(shop: Shop) -> Iterator[bytes]:
    """Every part of the list with the shop's terms, in the layout that the import reads, in pieces.

    A query, and one for each AT_ONCE parts. `counted` stays empty: it is for what somebody counts on the shelf.
    """
    return csv_pieces(COLUMNS, _rows(shop))


def _rows(shop: Shop) -> Iterator[list[str]]:
    parts = Part.objects.order_by("number").iterator(AT_ONCE)
    while some := list(islice(parts, AT_ONCE)):
        here = {item.part_id: item for item in StockItem.objects.filter(shop=shop, part__in=some)}
        for part in some:
            yield [safe_cell(cell) for cell in cells_of_part(part, here.get(part.pk))]


def cells_of_part(part: Part, item: StockItem | None) -> list[str]:
    """The row of a part, by column."""
    values = {name: getattr(part, name) for name in PART_COLUMNS}
    if item is not None:
        values |= {name: getattr(item, name) for name in TERMS}
    return [as_text(values.get(column), column) for column in COLUMNS]


def as_text(value: object, column: str) -> str:
    """A value as its column writes it; "" where there is none."""
    if isinstance(value, Decimal):
        return _one_reading(plain_price(value)) if column in ("price", "cost") else f"{value:.2f}"
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _one_reading(price: str) -> str:
    """“1.125” as “1.1250”: where it is brought in elsewhere, nobody takes its point for one between thousands."""
    return f"{price}0" if len(price.partition(".")[2]) == 3 else price
