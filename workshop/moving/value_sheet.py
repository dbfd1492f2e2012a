"""Spec values of models from a sheet, a value in each row; known by model, quantity and travel.

What comes in is the next version of its value and waits for a check, whoever checked the one before. A sheet with the
blanks of one model is read as well: a row that stays blank changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.core.exceptions import ValidationError

from specs.entering import TakingBackRefused, ValueChangedMeanwhile, keep_version, says_the_same, take_value_back
from specs.models import SpecValue
from specs.quantities import QUANTITIES
from specs.quantity_names import SIDE_WORDS, QuantityUnknown
from specs.value_rows import IN_WORDS, cells_of, is_left_blank, is_text, quantity_of, read_value, travel_of
from workshop.moving.model_sheet import KnownModels, model_key
from workshop.sheets.columns import Column
from workshop.sheets.kind import SheetKind
from workshop.sheets.models import SheetRow
from workshop.sheets.records import MOVED_ON, Cells
from workshop.sheets.steps import sheet_refusal_in_words
from workshop.sheets.table import Cell
from workshop.staff.models import Shop, User

Fate = SheetRow.Fate
Place = tuple[int, str, int]  # model, quantity, travel in mm
LEFT_BLANK = "Left blank: nothing changes by it."
CHECK_GOES = "The value that is stored is checked; the new one has to be checked anew."
_STAYS = {
    "checked": "Somebody checked it since, so it stays. Change or withdraw it on its page.",
    "changed": "Somebody changed it since, so it stays.",
}


class ValuesThere(KnownModels):
    """The models that are kept here, and the current values of those that rows name; two queries."""

    def __init__(self, rows: Sequence[Cells]) -> None:
        super().__init__()
        named = {model.pk for cells in rows if (model := self.of(cells)) is not None}
        current = SpecValue.objects.filter(model__in=named, is_current=True).select_related("model")
        self.current: dict[Place, SpecValue] = {
            (value.model_id, value.quantity, value.travel_mm): value for value in current
        }

    def stored_for(self, version: SpecValue) -> SpecValue | None:
        return self.current.get((version.model_id, version.quantity, version.travel_mm))


class ValueSheet(SheetKind):
    key = "values"
    title = "Values of models"
    thing = "value"
    shown = ("model", "quantity")
    key_column = "quantity"
    twice_is_doubtful = True
    rows_at_once = 40
    quantities = tuple(QUANTITIES.values())
    columns = (
        Column("maker", "The maker of the model", ("brand", "make", "hersteller"), required=True,
               points_at="models.csv, maker", sample="Sample maker"),
        Column("model", "The name of the model", ("model name", "modell"), required=True, points_at="models.csv, model",
               sample="Sample fork"),
        Column("year_from", "Its first year", ("year", "model year", "jahr"), required=True, decimals=0, unit="year",
               points_at="models.csv, year_from", sample="2021"),
        Column("quantity", "What is given, by its name below or in words", ("value of", "what", "property", "spec",
               "groesse", "größe", "messgroesse"), required=True, unit="name or words", sample="foot_torque_air_leg"),
        Column("leg", "Which leg or eyelet, where the quantity has one and does not say it itself", ("side", "eyelet"),
               unit=SIDE_WORDS),
        Column("travel_mm", "Only for this travel; empty is for every travel", ("travel", "federweg"), decimals=0,
               unit="mm"),
        Column("value", "The value as its source gives it, its unit in this cell or in the next; a line without one "
               "is left blank", ("amount", "wert"), required=True, decimals=3, sample="8"),
        Column("unit", "Its unit, any of the right kind", ("units", "einheit"), sample="N·m"),
        Column("tolerance", "Plus or minus, in the same unit or in percent", ("plus or minus", "plus minus",
               "toleranz"), decimals=3, sample="0.5"),
        Column("source_document", "The manual, sheet, sticker or letter that says so", ("source", "document", "manual",
               "quelle", "from"), required=True, sample="Sample manual"),
        Column("source_revision", "Which revision of that", ("revision", "edition", "issue"), sample="A"),
        Column("source_page", "On which page", ("page", "seite"), sample="12"),
        Column(IN_WORDS, "The quantity in words, for whoever fills the sheet in; nothing reads it", ()),
    )  # fmt: skip

    def holds_number(self, column: Column, cells: Mapping[str, Cell]) -> bool:
        """The name of an oil stays as it is written, whatever figures are in it."""
        if column.name not in ("value", "tolerance"):
            return super().holds_number(column, cells)
        return not is_text({name: cell for name, cell in cells.items() if isinstance(cell, str)})

    def known_by(self, cells: Cells) -> Sequence[str]:
        """With the leg and the travel, for the words of a file may leave them to columns of their own."""
        try:
            quantity = QUANTITIES[quantity_of(cells)].label
        except QuantityUnknown:
            quantity = " ".join(filter(None, (cells.get("quantity"), cells.get("leg"))))
        travel = cells.get("travel_mm", "").removesuffix("mm").strip()
        return cells.get("model", ""), f"{quantity}, {travel} mm" if travel.isdecimal() and int(travel) else quantity

    def key_of(self, cells: Cells) -> str:
        if is_left_blank(cells):
            return ""
        try:
            place = quantity_of(cells), str(travel_of(cells, None))
        except (QuantityUnknown, ValidationError):
            return ""
        of_the_model = model_key(cells.get("maker", ""), cells.get("model", ""), cells.get("year_from", ""))
        return " ".join((*place, *reversed(of_the_model)))

    def look(self, *, shop: Shop, rows: Sequence[SheetRow], by: User | None) -> int:
        there = ValuesThere([row.cells for row in rows])
        for row in rows:
            try:
                _say(row, there)
            except ValidationError as refused:
                row.fate, row.reason = Fate.REFUSED, sheet_refusal_in_words(refused)
        return len(rows)

    def begin_step(self, *, shop: Shop, rows: Sequence[SheetRow]) -> ValuesThere:
        return ValuesThere([row.cells for row in rows])

    def write(self, *, shop: Shop, row: SheetRow, by: User | None, with_counts: bool, asked: ValuesThere) -> None:
        assert by is not None  # noqa: S101 (a person presses; who entered a value cannot check it)
        version = read_value(row.cells, asked.named)
        seen = asked.stored_for(version)
        if (seen.pk if seen is not None else None) != row.before.get("pk"):
            raise ValidationError(MOVED_ON)
        try:
            saved = keep_version(version=version, seen=seen, entered_by=by)
        except ValueChangedMeanwhile:
            raise ValidationError(MOVED_ON) from None
        row.after = {"pk": saved.pk}

    def take_back(self, *, shop: Shop, row: SheetRow, by: User | None) -> str:
        versions = SpecValue.objects.in_bulk([pk for pk in (row.after["pk"], row.before.get("pk")) if pk])
        version = versions.get(row.after["pk"])
        if version is None:
            return ""  # its model is gone, and its values with it
        try:
            take_value_back(version=version, before=versions.get(row.before.get("pk")), by=by)
        except TakingBackRefused as refused:
            return _STAYS[str(refused)]
        return ""


def texts_of_values(value: SpecValue) -> dict[str, str]:
    """What a person compares of two versions."""
    if value.withdrawn:
        return {"value": "withdrawn", "tolerance": "", "source": value.source_document}
    tolerance = cells_of(value)["tolerance"]
    return {"value": value.typed, "tolerance": f"±{tolerance}" if tolerance else "", "source": value.source}


def _say(row: SheetRow, there: ValuesThere) -> None:
    if is_left_blank(row.cells):
        _say_blank(row, there)
        return
    version = read_value(row.cells, there.named)
    stored = there.stored_for(version)
    row.before = {"pk": None if stored is None else stored.pk}
    if stored is not None and says_the_same(stored, version):
        row.fate = Fate.UNCHANGED
        return
    row.fate = Fate.NEW if stored is None else Fate.CHANGED
    before = {} if stored is None else texts_of_values(stored)
    row.changes = [
        [name, before.get(name, ""), text]
        for name, text in texts_of_values(version).items()
        if text != before.get(name, "")
    ]
    if stored is not None and stored.is_checked:
        row.reason = CHECK_GOES


def _say_blank(row: SheetRow, there: ValuesThere) -> None:
    """Raises ValidationError where a value stands in the place that was left blank."""
    try:
        quantity = quantity_of(row.cells)
    except QuantityUnknown as unknown:
        raise ValidationError({unknown.column: unknown.reason}) from None
    row.fate, row.reason = Fate.UNCHANGED, LEFT_BLANK
    model = there.of(row.cells)
    if model is None:
        return
    stored = there.current.get((model.pk, quantity, travel_of(row.cells, model)))
    if stored is not None and not stored.withdrawn:
        raise ValidationError(
            {"value": f"This cell is empty, and {stored.typed} is stored. No file takes a value away: withdraw it on "
            "its page."}
        )  # fmt: skip
