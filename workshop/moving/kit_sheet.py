"""Service kits from a sheet, a part of a kit in each row; known by model, level and part."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models.functions import Lower

from specs.models import KitLine, Part, ServiceKit
from workshop.moving.model_sheet import KnownModels, model_key
from workshop.sheets.columns import Column
from workshop.sheets.records import MOVED_ON, Cells, Entries, RecordSheet, check, choice_in, number_in, said
from workshop.staff.models import Shop, User
from workshop.stock.kits import KitChangedMeanwhile, make_kit, put_in_kit, set_kit_quantity
from workshop.web.number_words import figures


class KitsThere(KnownModels):
    """The models that are kept here, their kits with their lines, and the parts that rows name; three queries."""

    def __init__(self, rows: Sequence[Cells]) -> None:
        super().__init__()
        numbers = [cells.get("number", "") for cells in rows]
        named = Part.objects.annotate(folded=Lower("number"))
        parts = named.filter(number__in=numbers) | named.filter(folded__in=[number.lower() for number in numbers])
        self.parts = {part.number.casefold(): part for part in parts}
        lines = KitLine.objects.filter(part__in=[part.pk for part in self.parts.values()])
        self.lines = {
            (line.kit.model_id, line.kit.level, line.part_id): line
            for line in lines.select_related("kit__model", "part")
        }

    def part(self, cells: Cells) -> Part:
        part = self.parts.get(cells.get("number", "").casefold())
        if part is None:
            raise ValidationError({"number": f"No part {cells.get('number', '')} is here. Bring the parts in first."})
        return part

    def match(self, cells: Cells) -> KitLine | None:
        level = choice_in(cells, "level", ServiceKit.Level.choices)
        return self.lines.get((self.named(cells).pk, level, self.part(cells).pk))

    def learn(self, record: KitLine, number: str) -> None:
        self.lines[record.kit.model_id, record.kit.level, record.part_id] = record

    def customer_of(self, cells: Cells, record: KitLine | None) -> int | None:
        return None


class KitSheet(RecordSheet[KitLine]):
    key = "kits"
    title = "Service kits"
    thing = "part of a kit"
    shown = ("model", "number")
    key_column = "number"
    columns = (
        Column("maker", "The maker of the model", ("brand", "make", "hersteller"), required=True,
               points_at="models.csv, maker", sample="Sample maker"),
        Column("model", "The name of the model", ("model name", "modell"), required=True, points_at="models.csv, model",
               sample="Sample fork"),
        Column("year_from", "Its first year", ("year", "jahr"), required=True, decimals=0, unit="year",
               points_at="models.csv, year_from", sample="2021"),
        Column("level", "Which service", ("service", "kit"), required=True, unit=", ".join(ServiceKit.Level.values),
               sample="lowers"),
        Column("number", "The part", ("part", "part number", "article"), required=True, points_at="parts.csv, number",
               sample="W-35"),
        Column("quantity", "How much of it", ("amount", "menge"), required=True, decimals=2, unit="pieces or ml",
               sample="1"),
        Column("note", "A note", ("notes", "remarks")),
    )  # fmt: skip

    def key_of(self, cells: Cells) -> str:
        of_the_model = model_key(cells.get("maker", ""), cells.get("model", ""), cells.get("year_from", ""))
        return " ".join((*of_the_model, cells.get("level", ""), cells.get("number", ""))).casefold()

    def there(self, shop: Shop, rows: Sequence[Cells]) -> KitsThere:
        return KitsThere(rows)

    def get(self, shop: Shop, pk: int) -> KitLine | None:
        return KitLine.objects.filter(pk=pk).select_related("kit__model", "part").first()

    def texts(self, record: KitLine) -> dict[str, str]:
        model = record.kit.model
        return {
            "maker": model.maker,
            "model": model.name,
            "year_from": str(model.year_from),
            "level": record.kit.level,
            "number": record.part.number,
            "quantity": figures(record.quantity),
            "note": record.note,
        }

    def entries(self, shop: Shop, cells: Cells, there: Any, record: KitLine | None) -> Entries:
        entries = said(cells, ["note"])
        quantity = number_in(cells, "quantity", decimals=2, low=0, high=999_999)
        if quantity is not None:
            entries["quantity"] = quantity.quantize(Decimal("0.01"))
        if entries.get("quantity") == 0:
            raise ValidationError({"quantity": "Enter a quantity above zero."})
        if record is None:
            entries |= {
                "model": there.named(cells),
                "part": there.part(cells),
                "level": choice_in(cells, "level", ServiceKit.Level.choices),
            }
        return entries

    def build(self, shop: Shop, record: KitLine | None, entries: Entries) -> KitLine:
        built = record
        if built is None:
            built = KitLine(kit=ServiceKit(model=entries["model"], level=entries["level"]), part=entries["part"])
        built.quantity, built.note = entries.get("quantity", built.quantity), entries.get("note", built.note)
        check(built, exclude=["kit", "part"])
        return built

    def save(self, shop: Shop, record: KitLine | None, entries: Entries, by: User | None) -> KitLine:
        if record is None:
            model, level = entries["model"], entries["level"]
            kit = ServiceKit.objects.filter(model=model, level=level).first() or make_kit(model=model, level=level)
            note = entries.get("note", "")
            return put_in_kit(kit=kit, part=entries["part"], quantity=entries["quantity"], note=note)
        if "quantity" in entries:
            try:
                set_kit_quantity(line=record, quantity=entries["quantity"], seen=record.quantity)
            except KitChangedMeanwhile:
                raise ValidationError(MOVED_ON) from None
        if "note" in entries:
            record.note = entries["note"]
            record.save(update_fields=["note"])
        return record

    def emptied(self, names: Sequence[str]) -> Entries:
        return {"note": ""} if "note" in names else {}

    def remove(self, shop: Shop, record: KitLine) -> None:
        """The line, and the kit that has nothing else in it."""
        kit = record.kit
        record.delete()
        if not kit.lines.exists():
            kit.delete()
