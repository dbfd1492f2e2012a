"""The air shut in the lower legs: what altitude, weather and bleeding do with it."""

from dataclasses import dataclass, replace

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.rest import rest_band
from specs.physics.air_spring.state import ChamberState, equalised
from specs.physics.band import Band
from specs.physics.errors import require_positive

ROOM_K = 293.15


@dataclass(frozen=True)
class LowerLegEffect:
    """What the shut-in air of the legs does now, and what bleeding both legs at full extension would change."""

    lower_leg_pa: float  # gauge, at full extension
    force_at_top_out_n: float  # above zero pushes the fork out, below zero holds it down
    rest_before: Band
    rest_after_bleeding: Band


def lower_leg_absolute_pressure(
    spring: AirSpring,
    closed_ambient_pa: float,
    *,
    closed_travel_m: float = 0.0,
    closed_k: float = ROOM_K,
    now_k: float = ROOM_K,
) -> float:
    """Absolute pressure (Pa) in the legs at full extension, from where and how they were closed.

    Legs closed part-way down hold less air than at full extension, so extending them leaves a partial vacuum.
    """
    require_positive("closed_ambient_pa", closed_ambient_pa)
    require_positive("closed_k", closed_k)
    require_positive("now_k", now_k)
    spring.require_travel("closed_travel_m", closed_travel_m)
    share = spring.lower_leg_volume_at(closed_travel_m) / spring.lower_leg_volume_m3
    return closed_ambient_pa * share * now_k / closed_k


def bled(spring: AirSpring, state: ChamberState, travel_m: float = 0.0) -> ChamberState:
    """The state after opening both legs to the ambient air at a travel and closing them there again."""
    spring.require_travel("travel_m", travel_m)
    share = spring.lower_leg_volume_at(travel_m) / spring.lower_leg_volume_m3
    return replace(state, lower_leg_absolute_pa=state.ambient_pa * share**state.exponent)


def lower_leg_effect(
    spring: AirSpring,
    pressure_pa: float,
    *,
    closed_ambient_pa: float,
    ambient_pa: float,
    closed_travel_m: float = 0.0,
    closed_k: float = ROOM_K,
    now_k: float = ROOM_K,
    load_n: float = 0.0,
) -> LowerLegEffect:
    """Legs closed at one altitude and temperature, the fork now at another, its chambers equalised at `pressure_pa`."""
    legs_absolute_pa = lower_leg_absolute_pressure(
        spring, closed_ambient_pa, closed_travel_m=closed_travel_m, closed_k=closed_k, now_k=now_k
    )
    state = equalised(spring, pressure_pa, ambient_pa=ambient_pa, lower_leg_pa=legs_absolute_pa)
    legs_pa = legs_absolute_pa - ambient_pa
    return LowerLegEffect(
        lower_leg_pa=legs_pa,
        force_at_top_out_n=legs_pa * spring.lower_leg_area_m2,
        rest_before=rest_band(spring, state, load_n),
        rest_after_bleeding=rest_band(spring, bled(spring, state), load_n),
    )
