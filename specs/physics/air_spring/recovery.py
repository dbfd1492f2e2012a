"""Getting a stuck fork back to its port: by pulling, by pressure, or by both."""

from dataclasses import dataclass

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.state import ChamberState, force, pressures_at
from specs.physics.band import Band
from specs.physics.errors import require_above_vacuum, require_finite


@dataclass(frozen=True)
class PortForecast:
    """Whether air alone can push a stuck fork out to its port without passing the fork's maximum (both gauge)."""

    needed_pa: float
    maximum_pa: float


def pull_to_port(spring: AirSpring, state: ChamberState, rest_travel_m: float) -> float:
    """Greatest pull (N) on the way from the rest depth out to the port, friction included.

    The pull grows all the way, so it is greatest at the port. Zero if the fork rests at or above the port, or would
    come out by itself.
    """
    spring.require_travel("rest_travel_m", rest_travel_m)
    if rest_travel_m <= spring.port_travel_m:
        return 0.0
    return max(0.0, spring.friction_n - force(spring, state, spring.port_travel_m))


def pressure_to_reach_port(spring: AirSpring, state: ChamberState, rest_travel_m: float) -> float:
    """Gauge pressure (Pa) the positive chamber needs at the port to push the fork out that far against friction.

    (p_n An - F_legs + friction) / Ap with everything taken at the port, where the need is greatest. The value is the
    same from any depth: the rest depth is only checked to be one this fork has.
    """
    spring.require_travel("rest_travel_m", rest_travel_m)
    at_port = pressures_at(spring, state, spring.port_travel_m)
    legs_n = at_port.lower_leg_pa * spring.lower_leg_area_m2
    held_n = at_port.negative_pa * spring.negative_area_m2
    return (held_n - legs_n + spring.friction_n) / spring.piston_area_m2


def pull_at_pressure(spring: AirSpring, state: ChamberState, positive_pa: float, *, hanging_n: float = 0.0) -> Band:
    """Pull (N) that holds the fork at its port with the positive chamber kept at `positive_pa` (gauge) there.

    p_n An - F_legs ± friction - p Ap - hanging, all at the port, where the need is greatest from any depth. `low` has
    friction helping, `high` against; below zero it comes by itself. `hanging_n` is what hangs on the fork and pulls it
    out (N along its axis). A pressure above the fork's maximum is computed, never advised: that wall is the caller's.
    """
    require_above_vacuum("positive_pa", positive_pa, state.ambient_pa)
    require_finite("hanging_n", hanging_n)
    at_port = pressures_at(spring, state, spring.port_travel_m)
    legs_n = at_port.lower_leg_pa * spring.lower_leg_area_m2
    held_n = at_port.negative_pa * spring.negative_area_m2
    pull_n = held_n - legs_n - positive_pa * spring.piston_area_m2 - hanging_n
    return Band(pull_n - spring.friction_n, pull_n, pull_n + spring.friction_n)


def pull_after_filling(
    spring: AirSpring, state: ChamberState, from_travel_m: float, fill_pa: float, *, hanging_n: float = 0.0
) -> Band:
    """Greatest pull (N) on the way to the port after filling to `fill_pa` (gauge) at `from_travel_m`, valve closed.

    The filling loses pressure as the fork comes out, so the pull grows all the way and is greatest at the port: more
    than `pull_at_pressure` at the same pressure. Bounds and sign as there. Nothing to pull at or above the port.
    """
    spring.require_travel("from_travel_m", from_travel_m)
    require_above_vacuum("fill_pa", fill_pa, state.ambient_pa)
    require_finite("hanging_n", hanging_n)
    if from_travel_m <= spring.port_travel_m:
        return Band(0.0, 0.0, 0.0)
    grown = spring.positive_volume_at(from_travel_m) / spring.positive_at_port_m3
    at_port_pa = (fill_pa + state.ambient_pa) * grown**state.exponent - state.ambient_pa
    return pull_at_pressure(spring, state, at_port_pa, hanging_n=hanging_n)


def forecast_inflating(spring: AirSpring, state: ChamberState, rest_travel_m: float) -> PortForecast:
    """The pressure needed at the port beside the fork's maximum, which is never to be passed."""
    return PortForecast(pressure_to_reach_port(spring, state, rest_travel_m), spring.max_pressure_pa)


def greatest_moved_fraction(spring: AirSpring) -> float:
    """Largest fraction a leak past the piston can move: what evens the chambers out at full travel.

    A fork found with more than this has not simply leaked: a depth or a pressure deserves a second look.
    """
    positive_m3 = spring.positive_volume_at(spring.travel_m)
    negative_m3 = spring.negative_volume_at(spring.travel_m)
    total_at_port_m3 = spring.positive_at_port_m3 + spring.negative_at_port_m3
    # n=1: shares of the gas follow the volumes
    kept = positive_m3 / (positive_m3 + negative_m3) * total_at_port_m3 / spring.positive_at_port_m3
    return max(0.0, 1 - kept)
