"""Current spec values in the layout that moving in reads, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

from django.db.models import QuerySet

from specs.expected import expected_keys
from specs.lookup import shown_unit
from specs.models import SpecValue, SuspensionModel
from specs.quantities import QUANTITIES
from specs.value_files import safe_cell
from specs.value_rows import COLUMNS, IN_WORDS, cells_of


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
        cells = cells_of(value)
        writer.writerow([safe_cell(cells[column]) for column in COLUMNS])
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
