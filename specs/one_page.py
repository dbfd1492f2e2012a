"""A model's values typed down one page: every row through the same functions as a single value, all or none.

A row that was left as it stood is not touched; a blank stays missing; a value that was there and is emptied asks why.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import ValidationError
from django.db import transaction

from specs.entering import ValueChangedMeanwhile, ValueSource, change_value, copy_value, enter_value, withdraw_value
from specs.models import SpecValue, SuspensionModel
from specs.quantities import QUANTITIES
from specs.typed_values import ValueRefused, read_typed, same_value, split_typed
from specs.units import from_si

EMPTIED = "There was a value here. Say below why it is not known after all, or put it back: {text}."
SOURCE_OF_NOTHING = "Enter the value that this is the source of, or empty its source."
_TOLERANCE = re.compile(r"±|\+\s*/\s*[-−]|\+-")
# What a value with no number can say of itself; its field on the page is the row's.
_OWN_FIELDS = frozenset({"source_document", "source_revision", "source_page", "why"})


@dataclass(frozen=True)
class TypedRow:
    """A row as it was sent. `seen` is the version the page showed, `copy_of` the sister's version that filled it.

    `source` is the one of the run of values, or the row's own; then `own_source` is true.
    """

    quantity: str
    typed: str
    source: ValueSource
    own_source: bool = False
    seen: SpecValue | None = None
    copy_of: SpecValue | None = None
    unit: str = ""
    why: str = ""


@dataclass
class PageSaved:
    """What was written, by quantity; a row that says what is stored already is in none of them."""

    entered: list[str] = field(default_factory=list)
    changed: list[str] = field(default_factory=list)
    copied: list[str] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)

    @property
    def waiting(self) -> int:
        """Values that now wait for a second person."""
        return len(self.entered) + len(self.changed) + len(self.copied)

    def __bool__(self) -> bool:
        return bool(self.waiting or self.withdrawn)


class PageRefused(Exception):
    """Nothing was written. `faults` has the reasons by quantity and field, `meanwhile` what others wrote."""

    def __init__(self, faults: Mapping[str, Mapping[str, str]], meanwhile: Mapping[str, SpecValue | None]) -> None:
        super().__init__("Some of the values were refused, and none is saved.")
        self.faults = faults
        self.meanwhile = meanwhile


def save_page(
    *, model: SuspensionModel, travel_mm: int, rows: Iterable[TypedRow], entered_by: AbstractBaseUser
) -> PageSaved:
    """Write every row that says something new, in the order of the quantities, or none of them.

    Sent a second time it writes nothing, for each row then says what is stored.

    Raises:
        PageRefused: with everything that was refused, and every value that somebody else wrote meanwhile.
    """
    faults: dict[str, dict[str, str]] = {}
    meanwhile: dict[str, SpecValue | None] = {}
    saved = PageSaved()
    order = list(QUANTITIES)
    with transaction.atomic():
        for row in sorted(rows, key=lambda row: order.index(row.quantity)):
            try:
                _save_row(model, travel_mm, row, entered_by, saved)
            except ValidationError as refused:
                faults[row.quantity] = {
                    name if name in _OWN_FIELDS else "typed": reasons[0]
                    for name, reasons in refused.message_dict.items()
                }
            except ValueChangedMeanwhile as changed:
                if not _says_it_already(row, changed.current, travel_mm):
                    meanwhile[row.quantity] = changed.current
        if faults or meanwhile:
            raise PageRefused(faults, meanwhile)
    return saved


def text_in_field(value: SpecValue) -> str:
    """A value as its field on the page shows it: as it was typed, with its tolerance."""
    dimension, unit = QUANTITIES[value.quantity].dimension, QUANTITIES[value.quantity].unit
    if value.tolerance_si is None or dimension is None:
        return value.typed
    return f"{value.typed} ±{from_si(value.tolerance_si, dimension, unit):.10g} {unit}"


def split_tolerance(quantity: str, text: str) -> tuple[str, str]:
    """A value and its tolerance typed as one, as “8 ±0.5 N·m”; a unit at the end is the value's too."""
    if QUANTITIES[quantity].dimension is None:
        return text.strip(), ""
    typed, *more = (part.strip() for part in _TOLERANCE.split(text, maxsplit=1))
    tolerance = more[0] if more else ""
    unit = split_typed(tolerance)[1]
    is_share = unit == "%" and QUANTITIES[quantity].dimension != "fraction"
    if unit and not is_share and split_typed(typed)[0] and not split_typed(typed)[1]:
        typed = f"{typed} {unit}"
    return typed, tolerance


def _save_row(
    model: SuspensionModel, travel_mm: int, row: TypedRow, person: AbstractBaseUser, saved: PageSaved
) -> None:
    text = row.typed.strip()
    if not text:
        _save_empty(row, person, saved)
        return
    if not row.own_source and row.seen is not None and text == text_in_field(row.seen):
        return
    if not row.own_source and row.seen is None and row.copy_of is not None and text == text_in_field(row.copy_of):
        copy_value(theirs=row.copy_of, model=model, entered_by=person)
        saved.copied.append(row.quantity)
        return
    typed, tolerance = split_tolerance(row.quantity, text)
    if row.seen is None:
        enter_value(
            model=model, quantity=row.quantity, travel_mm=travel_mm, typed=typed, unit=row.unit,
            tolerance=tolerance, source=row.source, entered_by=person,
        )  # fmt: skip
        saved.entered.append(row.quantity)
    elif not _says(row, row.seen, travel_mm):
        change_value(
            seen=row.seen, typed=typed, unit=row.unit, tolerance=tolerance, source=row.source, entered_by=person
        )
        saved.changed.append(row.quantity)


def _save_empty(row: TypedRow, person: AbstractBaseUser, saved: PageSaved) -> None:
    if row.seen is None:
        if row.own_source:
            raise ValidationError({"typed": SOURCE_OF_NOTHING})
        return
    if not row.why.strip():
        raise ValidationError({"typed": EMPTIED.format(text=text_in_field(row.seen))})
    withdraw_value(seen=row.seen, why=row.why, entered_by=person)
    saved.withdrawn.append(row.quantity)


def _says(row: TypedRow, stored: SpecValue, travel_mm: int) -> bool:
    """Whether a row gives the value that is stored, from the same place."""
    typed, tolerance = split_tolerance(row.quantity, row.typed)
    try:
        value = read_typed(quantity=row.quantity, typed=typed, unit=row.unit, tolerance=tolerance, travel_mm=travel_mm)
    except ValueRefused:
        return False
    source = tuple(part.strip() for part in (row.source.document, row.source.revision, row.source.page))
    return source == (stored.source_document, stored.source_revision, stored.source_page) and same_value(
        value, magnitude_si=stored.magnitude_si, text=stored.text, tolerance_si=stored.tolerance_si
    )


def _says_it_already(row: TypedRow, current: SpecValue | None, travel_mm: int) -> bool:
    """Whether what somebody wrote meanwhile, perhaps this person by pressing twice, is what the row says."""
    if current is None:
        return False
    if current.withdrawn or not row.typed.strip():
        return current.withdrawn and not row.typed.strip()
    if row.copy_of is not None and row.typed.strip() == text_in_field(row.copy_of):
        return current.copied_from_id == row.copy_of.model_id and text_in_field(current) == row.typed.strip()
    return _says(row, current, travel_mm)
