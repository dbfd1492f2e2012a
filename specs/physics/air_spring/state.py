"""What gas is where (`ChamberState`), the two ways to describe it, and the force it makes."""

from dataclasses import dataclass
from typing import TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.errors import require_above_vacuum, require_positive, require_within

# Slow and isothermal is 1; 1.4 is dry air with no heat lost; dense air goes a little above that.
LOWEST_EXPONENT, HIGHEST_EXPONENT = 1.0, 1.7

FloatArray = NDArray[np.float64]
Travel = TypeVar("Travel", float, FloatArray)


@dataclass(frozen=True)
class ChamberState:
    """The gas of the three chambers as absolute pressures at known travels, with the ambient it was set in.

    Once the chambers are closed, P V^exponent stays constant in each, so these say everything about every travel.
    """

    positive_at_port_absolute_pa: float
    negative_at_port_absolute_pa: float
    lower_leg_absolute_pa: float  # at full extension
    ambient_pa: float
    exponent: float

    def __post_init__(self) -> None:
        require_positive("ambient_pa", self.ambient_pa)
        require_positive("lower_leg_pa", self.lower_leg_absolute_pa)
        require_within("exponent", self.exponent, LOWEST_EXPONENT, HIGHEST_EXPONENT)


@dataclass(frozen=True)
class ChamberPressures:
    """Gauge pressures of the three chambers at one travel."""

    positive_pa: float
    negative_pa: float
    lower_leg_pa: float


def equalised(
    spring: AirSpring,
    pressure_pa: float,
    *,
    ambient_pa: float = SEA_LEVEL_PA,
    exponent: float = 1.0,
    lower_leg_pa: float | None = None,
) -> ChamberState:
    """Both chambers at `pressure_pa` (gauge) where they meet; `lower_leg_pa` is absolute, at full extension."""
    return stuck(spring, pressure_pa, 0.0, ambient_pa=ambient_pa, exponent=exponent, lower_leg_pa=lower_leg_pa)


def stuck(
    spring: AirSpring,
    pressure_pa: float,
    moved_fraction: float,
    *,
    ambient_pa: float = SEA_LEVEL_PA,
    exponent: float = 1.0,
    lower_leg_pa: float | None = None,
) -> ChamberState:
    """A fork sucked down: gas has passed into the negative chamber and the port no longer lets it back.

    The chambers were once equalised at `pressure_pa` (gauge) at the port. Of the gas then in the positive chamber,
    the fraction `moved_fraction` (by amount, 0 to 1) has since passed into the negative chamber; none was lost.
    `lower_leg_pa` is absolute, at full extension; legs not given were closed at ambient.
    """
    require_above_vacuum("pressure_pa", pressure_pa, ambient_pa)
    require_within("moved_fraction", moved_fraction, 0.0, 1.0)
    shared_absolute_pa = pressure_pa + ambient_pa
    gained = moved_fraction * spring.positive_at_port_m3 / spring.negative_at_port_m3
    return ChamberState(
        positive_at_port_absolute_pa=shared_absolute_pa * (1 - moved_fraction),
        negative_at_port_absolute_pa=shared_absolute_pa * (1 + gained),
        lower_leg_absolute_pa=ambient_pa if lower_leg_pa is None else lower_leg_pa,
        ambient_pa=ambient_pa,
        exponent=exponent,
    )


@overload
def force(spring: AirSpring, state: ChamberState, travel_m: float) -> float: ...
@overload
def force(spring: AirSpring, state: ChamberState, travel_m: FloatArray) -> FloatArray: ...
def force(spring: AirSpring, state: ChamberState, travel_m: float | FloatArray) -> float | FloatArray:
    """Force of the spring along the fork in N, without friction; positive pushes the fork out.

    F = (Pp - Pa) Ap - (Pn - Pa) An + (Pl - Pa) Al, from virtual work. A number gives a number, a NumPy array of
    travels an array of the same shape. Raises `ImpossibleValue` for any travel outside 0 to full travel.
    """
    if isinstance(travel_m, np.ndarray):
        _require_travels(spring, travel_m)
        return _force(spring, state, travel_m.astype(np.float64, copy=False))
    spring.require_travel("travel_m", travel_m)
    return _force(spring, state, float(travel_m))


def stiffness(spring: AirSpring, state: ChamberState, travel_m: float) -> float:
    """Slope of the force, N/m: always above zero, which is why every rest position is unique."""
    spring.require_travel("travel_m", travel_m)
    positive, negative, legs = _absolute_pressures(spring, state, float(travel_m))
    return state.exponent * (
        positive * spring.piston_area_m2**2 / spring.positive_volume_at(travel_m)
        + negative * spring.negative_area_m2**2 / spring.negative_volume_at(travel_m)
        + legs * spring.lower_leg_area_m2**2 / spring.lower_leg_volume_at(travel_m)
    )


def pressures_at(spring: AirSpring, state: ChamberState, travel_m: float) -> ChamberPressures:
    """Gauge pressure of each chamber at a travel."""
    spring.require_travel("travel_m", travel_m)
    positive, negative, legs = _absolute_pressures(spring, state, float(travel_m))
    ambient = state.ambient_pa
    return ChamberPressures(positive - ambient, negative - ambient, legs - ambient)


def _absolute_pressures(spring: AirSpring, state: ChamberState, travel_m: Travel) -> tuple[Travel, Travel, Travel]:
    positive = spring.positive_at_port_m3 / (spring.positive_volume_m3 - spring.piston_area_m2 * travel_m)
    negative = spring.negative_at_port_m3 / (spring.negative_volume_m3 + spring.negative_area_m2 * travel_m)
    legs = spring.lower_leg_volume_m3 / (spring.lower_leg_volume_m3 - spring.lower_leg_area_m2 * travel_m)
    if state.exponent != 1.0:
        positive, negative, legs = positive**state.exponent, negative**state.exponent, legs**state.exponent
    return (
        state.positive_at_port_absolute_pa * positive,
        state.negative_at_port_absolute_pa * negative,
        state.lower_leg_absolute_pa * legs,
    )


def _force(spring: AirSpring, state: ChamberState, travel_m: Travel) -> Travel:
    positive, negative, legs = _absolute_pressures(spring, state, travel_m)
    ambient = state.ambient_pa
    return (
        (positive - ambient) * spring.piston_area_m2
        - (negative - ambient) * spring.negative_area_m2
        + (legs - ambient) * spring.lower_leg_area_m2
    )


def _require_travels(spring: AirSpring, travels_m: FloatArray) -> None:
    inside = (travels_m >= 0) & (travels_m <= spring.travel_m)
    if not inside.all():
        spring.require_travel("travel_m", float(travels_m[~inside].flat[0]))
