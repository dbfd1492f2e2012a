"""What a linkage makes of a shock: travel and load at the wheel. A constant ratio, the mean over the travel.

By virtual work: what the wheel's load does over the wheel's travel, the shock's load does over its own. Real linkages
change their ratio along the travel, so a sag from it is a beginning, and the ring on the shock has the last word.
"""

from specs.physics.atmosphere import GRAVITY_M_S2
from specs.physics.errors import ContradictoryReading, ImpossibleValue, require_positive, require_within

LEAST_LEVERAGE, MOST_LEVERAGE = 1.0, 4.5
"""Between these lie rear wheels of bicycles: common practice, no published source."""
_A_TRAVEL_MM = 50.0
"""From here on a number is a wheel's travel in millimetres, and no ratio with its decimal point lost."""


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


def possible_leverage(ratio: float) -> float:
    """A ratio that was typed as it is, where a bicycle can have it.

    Raises `ContradictoryReading` naming `leverage` for one that none has, with the likely slip.
    """
    require_positive("leverage", ratio)
    if LEAST_LEVERAGE <= ratio <= MOST_LEVERAGE:
        return ratio
    slip = ""
    if LEAST_LEVERAGE <= 1 / ratio <= MOST_LEVERAGE:
        slip = f"Is it the other way round, stroke by wheel travel? Then the leverage is {1 / ratio:.2f}."
    elif ratio >= _A_TRAVEL_MM:
        slip = "Is it the wheel’s travel? Enter wheel travel / stroke, such as 150/60."
    elif LEAST_LEVERAGE <= ratio / 10 <= MOST_LEVERAGE:
        slip = f"Was the decimal point lost? Then it is {ratio / 10:.2f}."
    raise ContradictoryReading(
        "leverage", f"the wheel would go {ratio:.3g} times as far as the shock; bicycles lie between 1 and 4.5",
        likely_slip=slip,
    )  # fmt: skip


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


def load_at_wheel(shock_load_n: float, leverage: float) -> float:
    """Load at the wheel (N) that puts this load on the shock."""
    require_positive("leverage", leverage)
    return shock_load_n / leverage


def share_of_mass(wheel_load_n: float, mass_kg: float) -> float:
    """Which share of a rider's mass a load (N) at a wheel is."""
    require_positive("mass_kg", mass_kg)
    return wheel_load_n / (mass_kg * GRAVITY_M_S2)
