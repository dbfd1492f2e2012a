"""Current spec values in the layout that the import reads, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

from django.db.models import QuerySet

from specs.expected import expected_keys
from specs.lookup import shown_unit
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import QUANTITIES
from specs.typed_values import split_typed
from specs.units import from_si
from specs.value_files import COLUMNS, IN_WORDS, safe_cell


def exported_values(model: SuspensionModel | None = None) -> QuerySet[SpecValue]:
    """Current values of a model, or of all, in the order of the file; one query."""
    values = SpecValue.objects.filter(is_current=True, withdrawn=False).select_related("model")
    if model is not None:
        values = values.filter(model=model)
    return values.order_by("model__maker", "model__name", "model__year_from", "quantity", "travel_mm")


def export_csv(values: QuerySet[SpecValue]) -> bytes:
    """The values as CSV in UTF-8 with a byte order mark, which spreadsheets need to see that it is UTF-8."""
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(COLUMNS)
    for value in values:
        writer.writerow([safe_cell(cell) for cell in _cells(value)])
    return sheet.getvalue().encode("utf-8-sig")


def blank_csv(model: SuspensionModel, unit_for: Callable[[str], str]) -> bytes:
    """A sheet of what is missing of a model, to be filled in elsewhere and imported; one query.

    A row that stays blank changes nothing when it comes back. `unit_for` gives the shop's unit of a dimension.
    """
    known = set(exported_values(model).order_by().values_list("quantity", flat=True))
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow([*COLUMNS, IN_WORDS])
    for key in expected_keys(model):
        if key not in known:
            unit, label = shown_unit(QUANTITIES[key], unit_for), QUANTITIES[key].label
            cells = [model.maker, model.name, str(model.year_from), key, "", "", unit, "", "", "", "", label]
            writer.writerow([safe_cell(cell) for cell in cells])
    return sheet.getvalue().encode("utf-8-sig")


def _cells(value: SpecValue) -> list[str]:
    number, unit = split_typed(value.typed) if value.magnitude_si is not None else (value.text, "")
    return [
        value.model.maker,
        value.model.name,
        str(value.model.year_from),
        value.quantity,
        "" if value.travel_mm == ALL_TRAVELS else str(value.travel_mm),
        number,
        unit,
        _tolerance(value),
        value.source_document,
        value.source_revision,
        value.source_page,
    ]


def _tolerance(value: SpecValue) -> str:
    quantity = QUANTITIES[value.quantity]
    if value.tolerance_si is None or quantity.dimension is None:
        return ""
    return f"{from_si(value.tolerance_si, quantity.dimension, quantity.unit):.12g} {quantity.unit}"
