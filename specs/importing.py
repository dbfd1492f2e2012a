"""Spec values from a file: first a dry run that says what would become of each row, then exactly that, or nothing."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import Enum

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from specs.entering import check_has_it, check_travel, says_the_same
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import QUANTITIES
from specs.typed_values import ValueRefused, read_typed, split_typed
from specs.value_files import REQUIRED_COLUMNS, FileRow, read_rows

_COLUMN_OF_FIELD = {"typed": "value", "magnitude_si": "value", "text": "value"}
_ALL_TRAVELS_WORDS = {"", "0", "all"}

Place = tuple[int, str, int]  # model, quantity, travel in mm


class Fate(Enum):
    """What would become of a row."""

    NEW = "new"
    CHANGED = "changed"
    UNCHANGED = "unchanged"
    BLANK = "left blank"
    REFUSED = "refused"


@dataclass(frozen=True)
class RowFault:
    """The column that does not fit (empty: the whole row), and why."""

    column: str
    reason: str


@dataclass(frozen=True)
class RowFate:
    """A row and what would become of it. A refused one has every fault that was found in it."""

    row: FileRow
    fate: Fate
    faults: tuple[RowFault, ...] = ()
    version: SpecValue | None = None  # not saved
    stored: SpecValue | None = None

    @property
    def quantity_label(self) -> str:
        key = self.row.cells.get("quantity", "")
        return QUANTITIES[key].label if key in QUANTITIES else key


@dataclass(frozen=True)
class ImportPlan:
    """A dry run. `digest` stands for the file and for what is stored now; it is what the user says yes to."""

    rows: tuple[RowFate, ...]
    digest: str

    def count(self, fate: Fate) -> int:
        return sum(row.fate is fate for row in self.rows)

    @property
    def to_write(self) -> list[RowFate]:
        return [row for row in self.rows if row.fate in (Fate.NEW, Fate.CHANGED)]


class PlanChanged(Exception):
    """What would happen now is not what was shown. Nothing was imported; `plan` is the new dry run."""

    def __init__(self, plan: ImportPlan) -> None:
        super().__init__("The specs or the file changed after the dry run.")
        self.plan = plan


class _LeftBlank(Exception):
    """The row gives no value: what is missing stays missing. `place` is None where the row's model is not known."""

    def __init__(self, place: Place | None) -> None:
        super().__init__()
        self.place = place


class _Refused(Exception):
    def __init__(self, *faults: RowFault) -> None:
        super().__init__()
        self.faults = faults


def plan_import(content: bytes) -> ImportPlan:
    """Dry run of a file. Writes nothing. Raises `UnreadableFile` where the file as a whole cannot be read."""
    rows = read_rows(content)
    models = _models_named(rows)
    versions = [_version_or_refusal(row, models) for row in rows]
    stored = _stored(versions)
    fates = [_fate(row, version, stored) for row, version in zip(rows, versions, strict=True)]
    fates = _refuse_repeats(fates)
    return ImportPlan(tuple(fates), _digest(content, fates))


def carry_out(*, content: bytes, digest: str, entered_by: AbstractBaseUser) -> ImportPlan:
    """Import the new and changed rows of the dry run with this digest, all or none; each waits for a check.

    Raises:
        PlanChanged: another file, or specs that changed after the dry run.
    """
    try:
        with transaction.atomic():
            plan = plan_import(content)
            if plan.digest != digest:
                raise PlanChanged(plan)
            _write(plan, entered_by)
    except IntegrityError as error:
        raise PlanChanged(plan_import(content)) from error
    return plan


def _write(plan: ImportPlan, entered_by: AbstractBaseUser) -> None:
    replaced = [row.stored.pk for row in plan.to_write if row.stored is not None]
    claimed = SpecValue.objects.filter(pk__in=replaced, is_current=True).update(is_current=False)
    if claimed != len(replaced):
        raise IntegrityError("a value was changed by someone else")
    versions = [row.version for row in plan.to_write if row.version is not None]
    for version in versions:
        version.entered_by_id = entered_by.pk
    SpecValue.objects.bulk_create(versions)


def _folded(text: str) -> str:
    return " ".join(text.casefold().split())


def _models_named(rows: Iterable[FileRow]) -> dict[tuple[str, str, str], SuspensionModel]:
    years = {int(year) for row in rows if (year := row.cells.get("year_from", "")).isdecimal() and len(year) == 4}
    models = SuspensionModel.objects.filter(year_from__in=years)
    return {(_folded(model.maker), _folded(model.name), str(model.year_from)): model for model in models}


def _version_or_refusal(
    row: FileRow, models: Mapping[tuple[str, str, str], SuspensionModel]
) -> SpecValue | _Refused | _LeftBlank:
    try:
        return _version(row, models)
    except (_Refused, _LeftBlank) as refused:
        return refused


def _version(row: FileRow, models: Mapping[tuple[str, str, str], SuspensionModel]) -> SpecValue:
    """The version that a row asks for. Raises `_Refused` with everything that does not fit, or `_LeftBlank`."""
    if row.fault:
        raise _Refused(RowFault("", row.fault))
    if row.cells.get("quantity") in QUANTITIES and not (row.cells.get("value") or row.cells.get("tolerance")):
        raise _LeftBlank(_place_of_blank(row, models))
    faults = [RowFault(column, "This cell is empty.") for column in REQUIRED_COLUMNS if not row.cells.get(column)]
    version = SpecValue(
        source_document=row.cells.get("source_document", ""),
        source_revision=row.cells.get("source_revision", ""),
        source_page=row.cells.get("source_page", ""),
    )
    empty = {fault.column for fault in faults}
    model = None
    if not empty & {"maker", "model", "year_from"}:
        with _noting(faults):
            version.model = model = _model(row, models)
    with _noting(faults):
        version.travel_mm = _travel(row, model)
    if not empty & {"quantity", "value"}:
        with _noting(faults):
            _put_value(version, row)
    if model is not None and version.quantity in QUANTITIES:
        with _noting(faults):
            _has_it(model, version.quantity)
    faults += _unfit_fields(version, empty)
    if faults:
        raise _Refused(*faults)
    return version


def _place_of_blank(row: FileRow, models: Mapping[tuple[str, str, str], SuspensionModel]) -> Place | None:
    try:
        model = _model(row, models)
        return model.pk, row.cells["quantity"], _travel(row, model)
    except (_Refused, KeyError):
        return None


@contextmanager
def _noting(faults: list[RowFault]) -> Iterator[None]:
    """What is refused inside joins the faults, and the rest of the row is looked at too."""
    try:
        yield
    except _Refused as refused:
        faults += refused.faults


def _put_value(version: SpecValue, row: FileRow) -> None:
    version.quantity = row.cells["quantity"]
    try:
        value = read_typed(
            quantity=version.quantity,
            typed=_value_with_unit(row),
            unit="",
            tolerance=row.cells.get("tolerance", ""),
            travel_mm=version.travel_mm,
        )
    except ValueRefused as refused:
        column = _COLUMN_OF_FIELD.get(refused.field, refused.field)
        raise _Refused(RowFault(column, refused.reason)) from refused
    version.typed, version.magnitude_si, version.text = value.typed, value.magnitude_si, value.text
    version.tolerance_si = value.tolerance_si


def _unfit_fields(version: SpecValue, empty: Set[str]) -> list[RowFault]:
    """What the fields themselves refuse, such as a source longer than is kept, of those that were filled in."""
    unread = {"model", "entered_by", "checked_by", *empty}
    if not version.typed:
        unread |= {"quantity", "typed", "magnitude_si", "text"}
    try:
        version.clean_fields(exclude=unread)
    except ValidationError as error:
        return [
            RowFault(_COLUMN_OF_FIELD.get(field, field), reasons[0]) for field, reasons in error.message_dict.items()
        ]
    return []


def _model(row: FileRow, models: Mapping[tuple[str, str, str], SuspensionModel]) -> SuspensionModel:
    maker, name, year = (row.cells[column] for column in ("maker", "model", "year_from"))
    if not (year.isdecimal() and len(year) == 4):
        raise _Refused(RowFault("year_from", f"“{year}” is no year."))
    model = models.get((_folded(maker), _folded(name), year))
    if model is None:
        raise _Refused(RowFault("model", f"No {maker} {name} from {year} is kept here. Add the model first."))
    return model


def _travel(row: FileRow, model: SuspensionModel | None) -> int:
    travel = row.cells.get("travel_mm", "").lower()
    if travel in _ALL_TRAVELS_WORDS:
        return ALL_TRAVELS
    if not (travel.isdecimal() and len(travel) <= 4):
        said = f"“{travel}” is no travel in whole millimetres; leave it empty for every travel."
        raise _Refused(RowFault("travel_mm", said))
    try:
        if model is not None:
            check_travel(model, int(travel))
    except ValidationError as error:
        raise _Refused(RowFault("travel_mm", error.messages[0])) from error
    return int(travel)


def _has_it(model: SuspensionModel, quantity: str) -> None:
    try:
        check_has_it(model, quantity)
    except ValidationError as error:
        raise _Refused(RowFault("quantity", error.messages[0])) from error


def _value_with_unit(row: FileRow) -> str:
    value, unit = row.cells["value"], row.cells.get("unit", "")
    quantity = QUANTITIES.get(row.cells["quantity"])
    if not unit or quantity is None:
        return value
    if quantity.dimension is None:
        raise _Refused(RowFault("unit", f"“{quantity.label}” is text and has no unit."))
    if split_typed(value)[1]:
        raise _Refused(RowFault("unit", "The unit is there twice: in the value and in its own column."))
    return f"{value} {unit}"


def _place(version: SpecValue) -> Place:
    return version.model_id, version.quantity, version.travel_mm


def _stored(versions: Sequence[SpecValue | _Refused | _LeftBlank]) -> dict[Place, SpecValue]:
    models = {version.model_id for version in versions if isinstance(version, SpecValue)}
    models |= {blank.place[0] for blank in versions if isinstance(blank, _LeftBlank) and blank.place}
    current = SpecValue.objects.filter(model__in=models, is_current=True).select_related("model")
    return {_place(value): value for value in current}


def _fate(row: FileRow, version: SpecValue | _Refused | _LeftBlank, stored: Mapping[Place, SpecValue]) -> RowFate:
    if isinstance(version, _LeftBlank):
        there = stored.get(version.place) if version.place else None
        if there is None or there.withdrawn:
            return RowFate(row, Fate.BLANK)
        said = f"This cell is empty, and {there.typed} is stored. No file takes a value away: withdraw it on its page."
        return RowFate(row, Fate.REFUSED, (RowFault("value", said),))
    if isinstance(version, _Refused):
        return RowFate(row, Fate.REFUSED, version.faults)
    current = stored.get(_place(version))
    if current is None:
        return RowFate(row, Fate.NEW, version=version)
    if says_the_same(current, version):
        return RowFate(row, Fate.UNCHANGED, version=version, stored=current)
    version.number = current.number + 1
    return RowFate(row, Fate.CHANGED, version=version, stored=current)


def _refuse_repeats(fates: Sequence[RowFate]) -> list[RowFate]:
    """Refuse every row of a value that the file gives twice: which one is right cannot be told."""
    places: dict[Place, list[FileRow]] = defaultdict(list)
    for fate in fates:
        if fate.version is not None:
            places[_place(fate.version)].append(fate.row)
    return [
        fate
        if fate.version is None or len(places[_place(fate.version)]) == 1
        else replace(fate, fate=Fate.REFUSED, version=None, faults=(RowFault("quantity", _repeated(fate, places)),))
        for fate in fates
    ]


def _repeated(fate: RowFate, places: Mapping[Place, list[FileRow]]) -> str:
    assert fate.version is not None  # noqa: S101 (the caller looked)
    others = [row.where for row in places[_place(fate.version)] if row.place != fate.row.place]
    return f"The file gives this value again in {', '.join(others)}. Keep the right one."


def _digest(content: bytes, fates: Iterable[RowFate]) -> str:
    digest = hashlib.sha256(content)
    for fate in fates:
        seen = f"{fate.stored.pk}" if fate.stored else ""
        digest.update(f"\n{fate.row.place} {fate.fate.value} {seen}".encode())
    return digest.hexdigest()
