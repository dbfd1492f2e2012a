"""Finding what is known of a model: its current values, what is missing, and the spring they describe."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from specs.contradictions import COILS
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.physics.air_can import AirCan
from specs.physics.air_spring import AirSpring, ImpossibleValue
from specs.quantities import QUANTITIES, Quantity
from specs.units import from_si, number_text

# Which spec value fills which field of AirSpring.
GEOMETRY: Mapping[str, str] = {
    "piston_bore": "piston_bore_m",
    "air_shaft": "air_shaft_m",
    "damper_shaft": "damper_shaft_m",
    "stanchion": "stanchion_m",
    "positive_volume": "positive_volume_m3",
    "negative_volume": "negative_volume_m3",
    "lower_leg_volume": "lower_leg_volume_m3",
    "port_travel": "port_travel_m",
    "seal_friction": "friction_n",
    "max_pressure": "max_pressure_pa",
}

# Which spec value fills which field of AirCan: of a shock the piston runs in the can, and its bore is the can's.
CAN_GEOMETRY: Mapping[str, str] = {
    "piston_bore": "bore_m",
    "damper_body": "body_m",
    "positive_volume": "positive_volume_m3",
    "negative_volume": "negative_volume_m3",
    "port_travel": "port_travel_m",
    "max_pressure": "max_pressure_pa",
}


@dataclass(frozen=True)
class SpecShown:
    """A quantity of a model as it stands: its current value, or None where it is missing."""

    quantity: Quantity
    value: SpecValue | None

    @property
    def key(self) -> str:
        return self.quantity.key

    @property
    def label(self) -> str:
        return self.quantity.label

    @property
    def is_checked(self) -> bool:
        return self.value is not None and self.value.is_checked

    @property
    def source(self) -> str:
        return "" if self.value is None else self.value.source

    def written(self, unit_for: Callable[[str], str]) -> SpecWritten:
        """The value as the shop reads it; `unit_for` gives the shop's unit of a dimension."""
        return written(self.quantity, self.value, unit_for)


@dataclass(frozen=True)
class SpecWritten:
    """What `components/spec_value.html` and the documents print; `number` is empty for a missing value."""

    label: str
    number: str
    unit: str
    tolerance: str
    checked: bool
    source: str

    @property
    def text(self) -> str:
        """Number, unit and tolerance in one line."""
        return " ".join(part for part in (self.number, self.unit, self.tolerance) if part)


@dataclass(frozen=True)
class GeometryGap:
    """Why there is no spring to calculate with: missing quantities, or a reason in plain words."""

    missing: tuple[str, ...] = ()
    reason: str = ""

    @property
    def labels(self) -> list[str]:
        """What is missing, in the shop's words."""
        return [QUANTITIES[key].label for key in self.missing]


def current_values(model: SuspensionModel, travel_mm: int | None = None) -> Mapping[str, SpecValue]:
    """Known values by quantity key, in one query. A travel's own value goes before the one for every travel.

    A value withdrawn for one travel is missing for that travel: the general one is not put in its place.
    """
    travels = {ALL_TRAVELS, travel_mm or ALL_TRAVELS}
    values = SpecValue.objects.filter(model=model, is_current=True, travel_mm__in=travels)
    return for_travel(values.order_by(), travel_mm)  # by the model, as it is by default, would join it


def for_travel(current: Iterable[SpecValue], travel_mm: int | None) -> dict[str, SpecValue]:
    """As `current_values`, from the current versions of one model already fetched, withdrawn ones among them."""
    found: dict[str, SpecValue] = {}
    for value in current:
        own = value.travel_mm != ALL_TRAVELS
        if value.travel_mm == travel_mm or (not own and value.quantity not in found):
            found[value.quantity] = value
    return {key: found[key] for key in QUANTITIES if key in found and not found[key].withdrawn}


def choose(values: Mapping[str, SpecValue], keys: Iterable[str]) -> list[SpecShown]:
    """The wanted quantities with their values of `current_values`, missing ones too, in the registry's order."""
    wanted = set(keys)
    return [SpecShown(quantity, values.get(key)) for key, quantity in QUANTITIES.items() if key in wanted]


def spring_geometry(
    model: SuspensionModel,
    travel_m: float,
    *,
    values: Mapping[str, SpecValue] | None = None,
    measured: Mapping[str, float] | None = None,
) -> AirSpring | GeometryGap:
    """The air spring of a fork at a travel, or why there is none. Nothing is filled in by guess.

    `values` saves the query where the caller has `current_values` of the same travel already. `measured` (SI by
    quantity) was measured on this one fork and goes before the model's values.
    """
    if model.kind != "fork" or model.spring_kind in COILS:
        return GeometryGap(reason="Only the air spring of a fork is calculated.")
    if values is None:
        values = current_values(model, round(travel_m * 1000))
    known = {key: values[key].magnitude_si for key in GEOMETRY if key in values} | dict(measured or {})
    if missing := tuple(key for key in GEOMETRY if known.get(key) is None):
        return GeometryGap(missing)
    try:
        return AirSpring(travel_m=travel_m, **{field: known[key] or 0.0 for key, field in GEOMETRY.items()})
    except ImpossibleValue as error:
        field = {name: QUANTITIES[key].label for key, name in GEOMETRY.items()}.get(error.field, error.field)
        return GeometryGap(reason=f"{field}: {error.reason}.")


def can_geometry(
    model: SuspensionModel, stroke_m: float, *, values: Mapping[str, SpecValue] | None = None
) -> AirCan | GeometryGap:
    """The air can of a shock at a stroke, or why there is none. Nothing is filled in by guess.

    `values` saves the query where the caller has `current_values` of the same stroke already.
    """
    if model.kind != "shock" or model.spring_kind in COILS:
        return GeometryGap(reason="Only the air can of a shock is calculated.")
    if model.self_equalising is False:
        return GeometryGap(reason="Its chambers have valves of their own and do not level each other.")
    if values is None:
        values = current_values(model, round(stroke_m * 1000))
    known = {key: values[key].magnitude_si if key in values else None for key in CAN_GEOMETRY}
    if missing := tuple(key for key, magnitude in known.items() if magnitude is None):
        return GeometryGap(missing)
    try:
        return AirCan(stroke_m=stroke_m, **{field: known[key] or 0.0 for key, field in CAN_GEOMETRY.items()})
    except ImpossibleValue as error:
        field = {name: QUANTITIES[key].label for key, name in CAN_GEOMETRY.items()}.get(error.field, error.field)
        return GeometryGap(reason=f"{field}: {error.reason}.")


def shown_unit(quantity: Quantity, unit_for: Callable[[str], str]) -> str:
    """The unit a shop reads a quantity in. Hours and months are both times, so an interval keeps its own."""
    if quantity.dimension is None:
        return ""
    return quantity.unit if quantity.dimension == "time" else unit_for(quantity.dimension)


def written(quantity: Quantity, value: SpecValue | None, unit_for: Callable[[str], str]) -> SpecWritten:
    """Any version of a value, or a missing one, as the shop reads it."""
    unit = shown_unit(quantity, unit_for)
    if value is None or value.withdrawn:
        return SpecWritten(quantity.label, "", unit, "", checked=False, source="")
    if quantity.dimension is None or value.magnitude_si is None:
        return SpecWritten(quantity.label, value.text, "", "", value.is_checked, value.source)
    number = number_text(from_si(value.magnitude_si, quantity.dimension, unit), unit)
    tolerance = ""
    if value.tolerance_si is not None:
        step = from_si(value.tolerance_si, quantity.dimension, unit)
        tolerance = f"±{step:.2g}" if step < 100 else f"±{step:.0f}"
    return SpecWritten(quantity.label, number, unit, tolerance, value.is_checked, value.source)
