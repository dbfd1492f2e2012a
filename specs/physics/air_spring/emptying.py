"""Emptying a fork that is stuck down: where it then rests, and what is left after each stroke. Slow, so isothermal."""

from dataclasses import dataclass

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.rest import where_push_is
from specs.physics.air_spring.state import ChamberState, pressures_at
from specs.physics.band import Band
from specs.physics.errors import ImpossibleValue, require_finite


@dataclass(frozen=True)
class Emptied:
    """A stuck fork with its positive chamber open to the air: what the negative one still holds it down with.

    `negative_pa` is gauge. Each band is what friction leaves; the deepest rest goes with the lowest pressure.
    """

    rest_travel_m: Band
    negative_pa: Band


def emptied(spring: AirSpring, state: ChamberState, *, hanging_n: float = 0.0) -> Emptied:
    """Rest with the positive chamber held open to the air, the port blocked, and the gas of the negative one kept.

    The balance is (Pl - Pa) Al - (Pn - Pa) An = -hanging ± friction, which rises with travel; the end stops hold the
    rest. `hanging_n` is what hangs on the fork and pulls it out (N along its axis).
    """
    require_finite("hanging_n", hanging_n)

    def push_n(travel_m: float) -> float:
        at = pressures_at(spring, state, travel_m)
        return at.lower_leg_pa * spring.lower_leg_area_m2 - at.negative_pa * spring.negative_area_m2 + hanging_n

    rests = [where_push_is(push_n, held, spring.travel_m) for held in (-spring.friction_n, 0.0, spring.friction_n)]
    left = [pressures_at(spring, state, travel_m).negative_pa for travel_m in reversed(rests)]
    return Emptied(rest_travel_m=Band(*rests), negative_pa=Band(*left))


def after_strokes(spring: AirSpring, state: ChamberState, strokes: int, *, vent_travel_m: float) -> list[float]:
    """Gauge pressure both chambers share at the port after each of so many strokes. Isothermal.

    A stroke: with the fork at `vent_travel_m` the core is pressed until nothing comes, then let go, and the fork drawn
    out to its port, where the chambers even out. Each stroke takes only what the positive chamber held above the air
    around it, so some is left after the first; vented deep, the last strokes end a little below the air around.
    """
    if isinstance(strokes, bool) or not isinstance(strokes, int) or strokes < 0:
        raise ImpossibleValue("strokes", "strokes are a whole number, none or more")
    spring.require_travel("vent_travel_m", vent_travel_m)
    at_port_m3 = spring.positive_at_port_m3 + spring.negative_at_port_m3
    kept_j = state.ambient_pa * spring.positive_volume_at(vent_travel_m)
    negative_j = state.negative_at_port_absolute_pa * spring.negative_at_port_m3
    shared = []
    for _ in range(strokes):
        shared_pa = (kept_j + negative_j) / at_port_m3
        shared.append(shared_pa - state.ambient_pa)
        negative_j = shared_pa * spring.negative_at_port_m3
    return shared
