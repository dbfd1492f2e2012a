"""Friction of a fork from where it rests after it was pushed down, and after it was pulled up. Slow, so isothermal."""

from dataclasses import dataclass

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.rest import RULE_READING_M
from specs.physics.air_spring.state import ChamberState, force
from specs.physics.band import Band
from specs.physics.errors import ContradictoryReading, require_not_negative


@dataclass(frozen=True)
class MeasuredFriction:
    """Friction in N, with the range that reading a rule leaves. `is_floor`: an end stop held a rest, so it is more."""

    newtons: Band
    is_floor: bool = False


def friction_from_rests(
    spring: AirSpring,
    state: ChamberState,
    pushed_m: float,
    pulled_m: float,
    *,
    reading_m: float = RULE_READING_M / 2,
) -> MeasuredFriction:
    """Half the difference of the spring's force (N) at the two rests, with the same gas and as much hanging on it.

    Coming up from deep it stops where the spring pushes out with the friction, settling from above where it pulls in
    with it; what hangs falls out of the difference. `reading_m` is what each rest may be read wrong by, either way.
    Raises `ContradictoryReading` where it rests shallower after pushing down than after pulling up by more than that.
    """
    require_not_negative("reading_m", reading_m)
    spring.require_travel("pushed_m", pushed_m)
    spring.require_travel("pulled_m", pulled_m)
    if pushed_m + reading_m < pulled_m - reading_m:
        raise ContradictoryReading(
            "pushed_m",
            "pushed down and let go it cannot rest shallower than pulled up and let go",
            likely_slip="Were the two readings swapped?",
        )

    def half_between(deep_m: float, shallow_m: float) -> float:
        deep_m, shallow_m = min(spring.travel_m, deep_m), max(0.0, shallow_m)
        return max(0.0, (force(spring, state, deep_m) - force(spring, state, shallow_m)) / 2)

    return MeasuredFriction(
        Band(
            half_between(max(0.0, pushed_m - reading_m), min(spring.travel_m, pulled_m + reading_m)),
            half_between(pushed_m, pulled_m),
            half_between(pushed_m + reading_m, pulled_m - reading_m),
        ),
        is_floor=pulled_m <= 0.0 or pushed_m >= spring.travel_m,
    )
