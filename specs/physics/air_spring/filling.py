"""Pumping fills only the positive chamber: how the pressure closes in on what was set, round by round."""

import math

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.errors import ImpossibleValue, require_above_vacuum, require_positive


def pump_and_cycle(
    spring: AirSpring,
    set_pa: float,
    cycles: int,
    *,
    negative_pa: float = 0.0,
    ambient_pa: float = SEA_LEVEL_PA,
) -> list[float]:
    """Gauge pressure, equalised at the port, after each round of pumping to `set_pa` and cycling to the port.

    The positive chamber is pumped at full extension; `negative_pa` (gauge) is the negative chamber at full extension
    before the first round. Isothermal. The list has `cycles` entries and closes in on `settled_pressure`.
    """
    if isinstance(cycles, bool) or not isinstance(cycles, int) or cycles < 0:
        raise ImpossibleValue("cycles", "rounds are a whole number, none or more")
    require_above_vacuum("set_pa", set_pa, ambient_pa)
    require_above_vacuum("negative_pa", negative_pa, ambient_pa)
    pumped_j = (set_pa + ambient_pa) * spring.positive_volume_m3
    negative_j = (negative_pa + ambient_pa) * spring.negative_volume_m3
    total_m3 = spring.positive_at_port_m3 + spring.negative_at_port_m3
    rounds = []
    for _ in range(cycles):
        shared_pa = (pumped_j + negative_j) / total_m3
        rounds.append(shared_pa - ambient_pa)
        negative_j = shared_pa * spring.negative_at_port_m3
    return rounds


def settled_pressure(spring: AirSpring, set_pa: float, *, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Gauge pressure at the port when pumping again adds nothing: a little above `set_pa`, read at full extension."""
    require_above_vacuum("set_pa", set_pa, ambient_pa)
    return (set_pa + ambient_pa) * spring.positive_volume_m3 / spring.positive_at_port_m3 - ambient_pa


def loss_without_repumping(
    spring: AirSpring, set_pa: float, *, negative_pa: float = 0.0, ambient_pa: float = SEA_LEVEL_PA
) -> float:
    """How far (Pa) one round leaves the fork below what repeated rounds would give it."""
    once = pump_and_cycle(spring, set_pa, 1, negative_pa=negative_pa, ambient_pa=ambient_pa)[0]
    return settled_pressure(spring, set_pa, ambient_pa=ambient_pa) - once


def rounds_to_settle(
    spring: AirSpring,
    set_pa: float,
    tolerance_pa: float,
    *,
    negative_pa: float = 0.0,
    ambient_pa: float = SEA_LEVEL_PA,
) -> int:
    """Rounds (at least one) until the pressure is within `tolerance_pa` of where it settles.

    Each round leaves the share Vn / (Vp + Vn), at the port, of what was missing: a geometric closing-in.
    """
    require_positive("tolerance_pa", tolerance_pa)
    missing_pa = abs(loss_without_repumping(spring, set_pa, negative_pa=negative_pa, ambient_pa=ambient_pa))
    if missing_pa <= tolerance_pa:
        return 1
    share_left = spring.negative_at_port_m3 / (spring.positive_at_port_m3 + spring.negative_at_port_m3)
    return 1 + math.ceil(math.log(tolerance_pa / missing_pa) / math.log(share_left))
