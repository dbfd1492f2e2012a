"""What a linkage makes of a shock: travel and load at the wheel. A constant ratio, the mean over the travel.

By virtual work: what the wheel's load does over the wheel's travel, the shock's load does over its own. Real linkages
change their ratio along the travel, so a sag from it is a beginning, and the ring on the shock has the last word.
"""

from specs.physics.atmosphere import GRAVITY_M_S2
from specs.physics.errors import ImpossibleValue, require_positive, require_within

LEAST_LEVERAGE, MOST_LEVERAGE = 1.0, 4.5
"""Between these lie rear wheels of bicycles: common practice, no published source."""


def leverage_of(wheel_travel_m: float, stroke_m: float) -> float:
    """Mean leverage: how far the wheel goes for each metre of the shock.

    Raises `ImpossibleValue` naming `stroke_m` for a ratio that no bicycle has: one of the two is a slip.
    """
    require_positive("wheel_travel_m", wheel_travel_m)
    require_positive("stroke_m", stroke_m)
    leverage = wheel_travel_m / stroke_m
    if not LEAST_LEVERAGE <= leverage <= MOST_LEVERAGE:
        reason = f"the wheel would go {leverage:.1f} times as far as the shock; bicycles lie between 1 and 4.5"
        raise ImpossibleValue("stroke_m", reason)
    return leverage


def wheel_travel(shock_travel_m: float, leverage: float) -> float:
    """How far the wheel went (m) for what the shock shows."""
    require_positive("leverage", leverage)
    return shock_travel_m * leverage


def shock_travel(wheel_travel_m: float, leverage: float) -> float:
    """How far the shock goes (m) for the wheel's travel."""
    require_positive("leverage", leverage)
    return wheel_travel_m / leverage


def wheel_load(mass_kg: float, share: float) -> float:
    """Load (N) on a wheel that carries a share of the rider's mass."""
    require_positive("mass_kg", mass_kg)
    require_within("share", share, 0.0, 1.0)
    return mass_kg * share * GRAVITY_M_S2


def load_on_shock(wheel_load_n: float, leverage: float) -> float:
    """Load along the shock (N) for a load at the wheel: as much greater as its travel is smaller."""
    require_positive("leverage", leverage)
    return wheel_load_n * leverage
