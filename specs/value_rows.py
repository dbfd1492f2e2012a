"""A row of a file read as a spec value, with every fault of it at once; and a value written as such a row.

Which file it was, and what becomes of the row, is not known here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Set
from contextlib import contextmanager

from django.core.exceptions import ValidationError

from specs.entering import check_has_it, check_travel
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.one_page import split_tolerance
from specs.quantities import QUANTITIES
from specs.quantity_names import QuantityUnknown, quantity_named
from specs.typed_values import ValueRefused, read_typed, split_typed
from specs.units import from_si

COLUMNS = (
    "maker", "model", "year_from", "quantity", "travel_mm", "value", "unit", "tolerance",
    "source_document", "source_revision", "source_page",
)  # fmt: skip
REQUIRED_COLUMNS = ("maker", "model", "year_from", "quantity", "value", "source_document")
# In words, for whoever fills the sheet in; nothing reads it.
IN_WORDS = "quantity_in_words"
_COLUMN_OF_FIELD = {"typed": "value", "magnitude_si": "value", "text": "value"}
_ALL_TRAVELS_WORDS = {"", "0", "all"}

Cells = Mapping[str, str]
Faults = dict[str, list[str]]


def quantity_of(cells: Cells) -> str:
    """The key of the quantity that a row is about. Raises QuantityUnknown."""
    return quantity_named(cells.get("quantity", ""), cells.get("leg", ""))


def is_text(cells: Cells) -> bool:
    """Whether the value of a row is words, such as the name of an oil, and no number."""
    try:
        return QUANTITIES[quantity_of(cells)].dimension is None
    except QuantityUnknown:
        return False


def is_left_blank(cells: Cells) -> bool:
    """Whether a row names a quantity and gives no value: what is missing stays missing."""
    return bool(cells.get("quantity")) and not (cells.get("value") or cells.get("tolerance"))


def travel_of(cells: Cells, model: SuspensionModel | None) -> int:
    """The travel in mm that a row is of, 0 for every travel. Raises ValidationError by column."""
    travel = cells.get("travel_mm", "").lower().removesuffix("mm").strip()
    if travel in _ALL_TRAVELS_WORDS:
        return ALL_TRAVELS
    if not (travel.isdecimal() and len(travel) <= 4):
        said = f"“{travel}” is no travel in whole millimetres; leave it empty for every travel."
        raise ValidationError({"travel_mm": said})
    if model is not None:
        check_travel(model, int(travel))
    return int(travel)


def read_value(cells: Cells, model_of: Callable[[Cells], SuspensionModel]) -> SpecValue:
    """The version that a row asks for, not saved. Raises ValidationError with all that does not fit, by column.

    Args:
        model_of: the model that the cells name; raises ValidationError by column.
    """
    faults: Faults = {column: ["This cell is empty."] for column in REQUIRED_COLUMNS if not cells.get(column)}
    empty = set(faults)
    version = SpecValue(
        source_document=cells.get("source_document", ""),
        source_revision=cells.get("source_revision", ""),
        source_page=cells.get("source_page", ""),
    )
    model = None
    if not empty & {"maker", "model", "year_from"}:
        with _noting(faults):
            version.model = model = model_of(cells)
    with _noting(faults):
        version.travel_mm = travel_of(cells, model)
    if not empty & {"quantity", "value"}:
        with _noting(faults):
            _put_value(version, cells)
    if model is not None and version.quantity:
        with _noting(faults):
            _check_has_it(model, version.quantity)
    _check_fields(version, empty, faults)
    if faults:
        raise ValidationError(faults)
    return version


def cells_of(value: SpecValue) -> dict[str, str]:
    """A value as a row, which reads as that value again."""
    number, unit = split_typed(value.typed) if value.magnitude_si is not None else (value.text, "")
    return {
        "maker": value.model.maker,
        "model": value.model.name,
        "year_from": str(value.model.year_from),
        "quantity": value.quantity,
        "travel_mm": "" if value.travel_mm == ALL_TRAVELS else str(value.travel_mm),
        "value": number,
        "unit": unit,
        "tolerance": _tolerance(value),
        "source_document": value.source_document,
        "source_revision": value.source_revision,
        "source_page": value.source_page,
        IN_WORDS: QUANTITIES[value.quantity].label,
    }


def _tolerance(value: SpecValue) -> str:
    quantity = QUANTITIES[value.quantity]
    if value.tolerance_si is None or quantity.dimension is None:
        return ""
    return f"{from_si(value.tolerance_si, quantity.dimension, quantity.unit):.12g} {quantity.unit}"


@contextmanager
def _noting(faults: Faults) -> Iterator[None]:
    """What is refused inside joins the faults, and the rest of the row is looked at too."""
    try:
        yield
    except ValidationError as refused:
        for column, reasons in refused.message_dict.items():
            faults.setdefault(column, []).extend(reasons)
    except QuantityUnknown as unknown:
        faults.setdefault(unknown.column, []).append(unknown.reason)


def _put_value(version: SpecValue, cells: Cells) -> None:
    version.quantity = quantity_of(cells)
    typed, tolerance = _value_and_tolerance(version.quantity, cells)
    try:
        value = read_typed(
            quantity=version.quantity, typed=typed, unit="", tolerance=tolerance, travel_mm=version.travel_mm
        )
    except ValueRefused as refused:
        raise ValidationError({_COLUMN_OF_FIELD.get(refused.field, refused.field): refused.reason}) from refused
    version.typed, version.magnitude_si, version.text = value.typed, value.magnitude_si, value.text
    version.tolerance_si = value.tolerance_si


def _value_and_tolerance(key: str, cells: Cells) -> tuple[str, str]:
    """The value with its unit, and its tolerance; “8 ±0.5” may stand in one cell. Raises ValidationError."""
    quantity, unit, own = QUANTITIES[key], cells.get("unit", ""), cells.get("tolerance", "")
    if quantity.dimension is None:
        if unit:
            raise ValidationError({"unit": f"“{quantity.label}” is text and has no unit."})
        return cells["value"], own
    typed, tolerance = split_tolerance(key, cells["value"])
    if tolerance and own:
        raise ValidationError({"tolerance": "The tolerance is there twice: in the value and in its own column."})
    if unit and split_typed(typed)[1]:
        raise ValidationError({"unit": "The unit is there twice: in the value and in its own column."})
    return (f"{typed} {unit}" if unit else typed), tolerance or own


def _check_has_it(model: SuspensionModel, quantity: str) -> None:
    try:
        check_has_it(model, quantity)
    except ValidationError as error:
        raise ValidationError({"quantity": error.messages}) from error


def _check_fields(version: SpecValue, empty: Set[str], faults: Faults) -> None:
    """What the fields themselves refuse, such as a source longer than is kept, of those that were filled in."""
    unread = {"model", "copied_from", "entered_by", "checked_by", "taken_back_by", *empty}
    if not version.typed:
        unread |= {"quantity", "typed", "magnitude_si", "text"}
    try:
        version.clean_fields(exclude=unread)
    except ValidationError as error:
        for field, reasons in error.message_dict.items():
            faults.setdefault(_COLUMN_OF_FIELD.get(field, field), []).append(reasons[0])
