"""Where the fork comes to rest: the band that friction leaves, and the healthy one."""

import math
from collections.abc import Callable

from mpmath import fp

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.state import ChamberState, equalised, force, stiffness
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.band import Band
from specs.physics.errors import require_finite, require_not_negative, require_within

# What a steel rule against a stanchion resolves; common practice, no published source.
RULE_READING_M = 0.001
# Residual below which a root is as good as floating point allows, as a share of the forces that cancel in it.
ROUNDING = 1e-12


def rest_band(spring: AirSpring, state: ChamberState, load_n: float = 0.0) -> Band:
    """Travels (m) at which the fork can stand still under a load along its axis, within 0..travel.

    Friction holds it anywhere the spring's force is within `friction_n` of the load: `low` is where it stops when
    settling from full extension, `high` where it stops when coming up from deep, `mid` where friction does nothing.
    A load below zero pulls the fork out, as what hangs on it does.
    The end stops hold the rest, so a band may be cut off at 0 or at full travel.
    """
    require_finite("load_n", load_n)
    return Band(
        low=travel_at_force(spring, state, load_n - spring.friction_n),
        mid=travel_at_force(spring, state, load_n),
        high=travel_at_force(spring, state, load_n + spring.friction_n),
    )


def healthy_band(
    spring: AirSpring,
    pressure_pa: float,
    *,
    ambient_pa: float = SEA_LEVEL_PA,
    lower_leg_pa: float | None = None,
    reading_m: float = RULE_READING_M,
    hanging_n: float = 0.0,
) -> Band:
    """Where this fork may rest unridden with its chambers equalised at `pressure_pa`, from its own geometry.

    The rest band, widened each way by what the rule resolves. Deeper than `high` is sucked down. `hanging_n` is what
    hangs on the fork and pulls it out (N along its axis): wheel, lower legs and brake move the rest by millimetres.
    """
    require_not_negative("reading_m", reading_m)
    require_finite("hanging_n", hanging_n)
    level = equalised(spring, pressure_pa, ambient_pa=ambient_pa, lower_leg_pa=lower_leg_pa)
    rest = rest_band(spring, level, -hanging_n)
    return Band(max(0.0, rest.low - reading_m), rest.mid, min(spring.travel_m, rest.high + reading_m))


def travel_at_force(spring: AirSpring, state: ChamberState, force_n: float) -> float:
    """The one travel at which the spring makes a force; an end of the stroke if the force is beyond it."""
    require_finite("force_n", force_n)
    if force(spring, state, 0.0) >= force_n:
        return 0.0
    if force(spring, state, spring.travel_m) <= force_n:
        return spring.travel_m
    if state.exponent == 1.0:
        root = _isothermal_root(spring, state, force_n)
        if root is not None:
            return root
    return where_push_is(lambda at_m: force(spring, state, at_m), force_n, spring.travel_m)


def axle_load_along_fork(load_n: float, head_angle_deg: float) -> float:
    """Part of an upright load at the axle that acts along the fork; the head angle is from the horizontal."""
    require_finite("load_n", load_n)
    require_within("head_angle_deg", head_angle_deg, 30.0, 90.0)
    return load_n * math.sin(math.radians(head_angle_deg))


def where_push_is(push_n: Callable[[float], float], force_n: float, travel_m: float) -> float:
    """The one travel (m) at which a push that rises with travel comes to a force; an end of the stroke beyond it."""
    if push_n(0.0) >= force_n:
        return 0.0
    if push_n(travel_m) <= force_n:
        return travel_m
    root = fp.findroot(
        lambda at_m: push_n(at_m) - force_n,
        (0.0, travel_m),
        solver="anderson",
        maxsteps=100,
        verify=False,  # it would compare newtons with a tolerance meant for metres
    )
    return float(root)


def _isothermal_root(spring: AirSpring, state: ChamberState, force_n: float) -> float | None:
    """Closed form for exponent 1, or None where rounding spoils it (a force near the push of ambient alone).

    With lengths a, b, c (volume over area) the balance is kp/(a-x) - kn/(b+x) + kl/(c-x) = t, a cubic in x. It
    rises between its poles, so all three roots are real (Viète) and ours is the only one between -b and min(a, c).
    """
    a = spring.positive_volume_m3 / spring.piston_area_m2
    b = spring.negative_volume_m3 / spring.negative_area_m2
    c = spring.lower_leg_volume_m3 / spring.lower_leg_area_m2
    kp = state.positive_at_port_absolute_pa * spring.positive_at_port_m3
    kn = state.negative_at_port_absolute_pa * spring.negative_at_port_m3
    kl = state.lower_leg_absolute_pa * spring.lower_leg_volume_m3
    ambient_area_m2 = spring.piston_area_m2 - spring.negative_area_m2 + spring.lower_leg_area_m2
    t = force_n + state.ambient_pa * ambient_area_m2
    if t == 0.0:
        return None
    second = (t * (b - a - c) + kp + kn + kl) / t
    first = (t * (a * c - a * b - b * c) - kp * (c - b) - kn * (a + c) - kl * (a - b)) / t
    constant = (t * a * b * c - kp * b * c + kn * a * c - kl * a * b) / t
    p = first - second**2 / 3
    q = 2 * second**3 / 27 - second * first / 3 + constant
    if p >= 0.0:
        return None
    radius = 2 * math.sqrt(-p / 3)
    cosine = max(-1.0, min(1.0, 3 * q / (p * radius)))
    turn = 1 if t > 0 else 2  # the middle root, or the smallest
    root = radius * math.cos(math.acos(cosine) / 3 - turn * 2 * math.pi / 3) - second / 3
    return _polished(spring, state, force_n, root, force_scale_n=abs(t) + kp / a)


def _polished(
    spring: AirSpring, state: ChamberState, force_n: float, root_m: float, *, force_scale_n: float
) -> float | None:
    """One Newton step takes out the rounding of the closed form; None if that was not enough."""
    if not 0.0 <= root_m <= spring.travel_m:
        return None
    step = (force(spring, state, root_m) - force_n) / stiffness(spring, state, root_m)
    root_m = max(0.0, min(spring.travel_m, root_m - step))
    residual = abs(force(spring, state, root_m) - force_n)
    return root_m if residual <= ROUNDING * force_scale_n else None
