"""What the shop notes of a fork or shock, each entry declared once: forms, page, search and erasing follow from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypedDict

from specs.contradictions import COILS
from specs.models import SuspensionModel
from specs.units import show
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit


class UnitEntries(TypedDict, total=False):
    """What is typed of a unit, by its columns; what is left out stays as it is."""

    kind: str
    model: SuspensionModel | None
    described_as: str
    serial: str
    travel_m: float | None
    spring_kind: str
    air_side: str
    damper_kind: str
    crowns: str
    inverted: str
    ramp_chamber: str
    gas_charge: str
    notes: str


@dataclass(frozen=True)
class Measured:
    """An SI magnitude of a dimension, and between which it can be meant."""

    dimension: str
    low_si: float
    high_si: float
    why_range: str


@dataclass(frozen=True)
class UnitField:
    """A column of SuspensionUnit that people fill in: text, a fact with choices, or an SI magnitude.

    Attributes:
        at_booking: asked while booking in too, not only when the unit is added or edited by itself.
        searched: a unit is found by it, and a hit says so by the label.
        personal: may hold the person's words, so it is emptied where its owner is erased.
        concerns: whether it says anything of this unit; where not, its page leaves it out.
    """

    name: str
    label: str
    at_booking: bool = False
    searched: bool = False
    personal: bool = False
    measured: Measured | None = None
    concerns: Callable[[SuspensionUnit], bool] = lambda unit: True

    @property
    def is_long(self) -> bool:
        """Text of several lines."""
        return SuspensionUnit._meta.get_field(self.name).get_internal_type() == "TextField"

    @property
    def choices(self) -> Mapping[str, str]:
        """Stored value to words, for a fact that its model may know too; empty for what is typed."""
        column = SuspensionUnit._meta.get_field(self.name)
        return {key: words for key, words in getattr(column, "choices", None) or () if key}


def _has_air_sides(unit: SuspensionUnit) -> bool:
    return unit.kind == "fork" and unit.facts().get("spring_kind") not in COILS


def _is_a_fork(unit: SuspensionUnit) -> bool:
    return unit.kind == "fork"


def _may_have_chambers(unit: SuspensionUnit) -> bool:
    return unit.facts().get("spring_kind") not in COILS


_TRAVEL = Measured("length", 0.010, 0.300, "Forks and shocks move 10 to 300 mm.")
# In the order of forms and page.
UNIT_FIELDS = (
    UnitField("serial", "Serial", at_booking=True, searched=True),
    UnitField("travel_m", "Travel", at_booking=True, measured=_TRAVEL),
    UnitField("spring_kind", "Spring"),
    UnitField("air_side", "Spring side", concerns=_has_air_sides),
    UnitField("damper_kind", "Damper"),
    UnitField("crowns", "Crowns", concerns=_is_a_fork),
    UnitField("inverted", "Inverted, the thin tubes at the wheel", concerns=_is_a_fork),
    UnitField("ramp_chamber", "Ramp-up chamber with a valve of its own", concerns=_may_have_chambers),
    UnitField("gas_charge", "Gas charge in the damper"),
    UnitField("notes", "Notes", personal=True),
)
SEARCHED = tuple(field for field in UNIT_FIELDS if field.searched)
PERSONAL = tuple(field for field in UNIT_FIELDS if field.personal)


@dataclass(frozen=True)
class UnitRow:
    """An entry as the unit's page shows it."""

    label: str
    value: str
    is_long: bool


def unit_rows(unit: SuspensionUnit, shop: Shop) -> list[UnitRow]:
    """Every entry that concerns the unit, in the shop’s units; what is missing says so, empty notes are left out."""
    shown = [field for field in UNIT_FIELDS if field.concerns(unit)]
    rows = [UnitRow(field.label, _in_words(field, unit, shop), field.is_long) for field in shown]
    return [row for row in rows if row.value or not row.is_long]


def _in_words(field: UnitField, unit: SuspensionUnit, shop: Shop) -> str:
    own = getattr(unit, field.name)
    if field.measured is not None:
        dimension = field.measured.dimension
        return "not noted" if own is None else show(own, dimension, shop.unit_for(dimension))
    if field.choices:
        return field.choices.get(str(own or getattr(unit.model, field.name, "")), "not known")
    return own or ("" if field.is_long else "not noted")


def write_entries(unit: SuspensionUnit, entries: UnitEntries) -> None:
    """Put what was typed into a record that is not saved yet. A model decides the kind.

    Raises:
        TypeError: an entry that no unit has.
    """
    for name, value in entries.items():
        if name not in UnitEntries.__annotations__:
            raise TypeError(f"A unit has no entry {name!r}.")
        setattr(unit, name, value.strip() if isinstance(value, str) else value)
    if unit.model is not None:
        unit.kind = unit.model.kind
