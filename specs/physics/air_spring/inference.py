"""From how deep a stuck fork rests, and one pressure, to where its gas is. Slow, so isothermal."""

from dataclasses import dataclass

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.state import ChamberState, equalised, force, stiffness
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.band import Band
from specs.physics.errors import ContradictoryReading, require_above_vacuum, require_finite, require_positive

# Half a division of a rule: a depth this far off is not a contradiction.
DEPTH_SLACK_M = 0.0005


@dataclass(frozen=True)
class Inference:
    """Where the gas is, each with the band that friction leaves. Pressures are gauge.

    `moved_fraction` is the part of the positive chamber's gas that has passed into the negative one since both were
    equalised at `equalised_pa` at the port; `positive_pa` and `negative_pa` are the chambers at the rest depth.
    """

    moved_fraction: Band
    negative_pa: Band
    positive_pa: Band
    equalised_pa: Band


def infer_from_earlier_pressure(
    spring: AirSpring,
    pressure_pa: float,
    rest_travel_m: float,
    *,
    ambient_pa: float = SEA_LEVEL_PA,
    lower_leg_pa: float | None = None,
    hanging_n: float = 0.0,
) -> Inference:
    """The pressure the fork held before it sank is known (gauge, equalised at the port); no gas was lost since.

    The force at the rest depth falls linearly with the fraction moved, and friction leaves it between +friction
    (about to come out) and -friction (about to sink further): hence the band. At full extension the end stop carries
    any surplus, so the band starts at nothing moved, which is also its middle; at full travel it ends at everything.

    `hanging_n` (N along the fork's axis, pulling out) is what hangs on it: the fork is held down against that too.
    Raises `ContradictoryReading` if an equalised fork would rest deeper than that, or if even all the gas in the
    negative chamber could not hold it there.
    """
    require_above_vacuum("pressure_pa", pressure_pa, ambient_pa)
    require_finite("hanging_n", hanging_n)
    spring.require_travel("rest_travel_m", rest_travel_m)
    healthy = equalised(spring, pressure_pa, ambient_pa=ambient_pa, lower_leg_pa=lower_leg_pa)
    healthy_n = force(spring, healthy, rest_travel_m) + hanging_n
    gas_j = healthy.positive_at_port_absolute_pa * spring.positive_at_port_m3
    positive_m3 = spring.positive_volume_at(rest_travel_m)
    negative_m3 = spring.negative_volume_at(rest_travel_m)
    force_per_fraction_n = gas_j * (spring.piston_area_m2 / positive_m3 + spring.negative_area_m2 / negative_m3)
    slack = DEPTH_SLACK_M * stiffness(spring, healthy, rest_travel_m) / force_per_fraction_n

    friction = spring.friction_n / force_per_fraction_n
    balanced = healthy_n / force_per_fraction_n
    low, mid, high = balanced - friction, balanced, balanced + friction
    if rest_travel_m == 0.0:
        low, mid = 0.0, min(0.0, mid)
    elif rest_travel_m == spring.travel_m:
        high = 1.0
    _refuse_too_shallow_for_earlier_pressure(high + slack)
    _refuse_too_deep(low - slack)
    moved = Band(*(min(1.0, max(0.0, fraction)) for fraction in (low, mid, high)))

    def positive_pa(fraction: float) -> float:
        return (1 - fraction) * gas_j / positive_m3 - ambient_pa

    def negative_pa(fraction: float) -> float:
        own_j = healthy.negative_at_port_absolute_pa * spring.negative_at_port_m3
        return (own_j + fraction * gas_j) / negative_m3 - ambient_pa

    return Inference(
        moved_fraction=moved,
        negative_pa=Band(negative_pa(moved.low), negative_pa(moved.mid), negative_pa(moved.high)),
        positive_pa=Band(positive_pa(moved.high), positive_pa(moved.mid), positive_pa(moved.low)),
        equalised_pa=Band(pressure_pa, pressure_pa, pressure_pa),
    )


def infer_from_reading(
    spring: AirSpring,
    reading_pa: float,
    rest_travel_m: float,
    *,
    ambient_pa: float = SEA_LEVEL_PA,
    lower_leg_pa: float | None = None,
    hanging_n: float = 0.0,
) -> Inference:
    """The positive chamber is read (gauge) with the fork at its rest depth; what it held before is unknown.

    The balance of forces gives the negative chamber's pressure, linear in what friction holds; the two amounts of
    gas then give the pressure they would share at the port and the fraction that has moved. At full extension the
    end stop carries any surplus, so nothing need have moved; at full travel the upper ends are only floors.
    `hanging_n` (N along the fork's axis, pulling out) is what hangs on it: the negative chamber holds that up, too.
    Raises `ContradictoryReading` if the negative chamber holds less than its share: pumped and never equalised.
    """
    require_above_vacuum("reading_pa", reading_pa, ambient_pa)
    require_finite("hanging_n", hanging_n)
    spring.require_travel("rest_travel_m", rest_travel_m)
    legs_absolute_pa = ambient_pa if lower_leg_pa is None else lower_leg_pa
    require_positive("lower_leg_pa", legs_absolute_pa)
    no_negative = ChamberState(
        (reading_pa + ambient_pa) * spring.positive_volume_at(rest_travel_m) / spring.positive_at_port_m3,
        ambient_pa * spring.negative_volume_at(rest_travel_m) / spring.negative_at_port_m3,
        legs_absolute_pa,
        ambient_pa,
        1.0,
    )  # the negative chamber at ambient at this depth, so this force is what its gauge pressure must hold
    push_n = force(spring, no_negative, rest_travel_m) + hanging_n
    slack_n = DEPTH_SLACK_M * stiffness(spring, no_negative, rest_travel_m)

    def split(held_by_friction_n: float) -> _Split:
        negative_pa = (push_n - held_by_friction_n) / spring.negative_area_m2
        return _Split.of(spring, reading_pa + ambient_pa, max(0.0, negative_pa + ambient_pa), rest_travel_m)

    _refuse_too_shallow_for_reading(split(-spring.friction_n - slack_n).moved_fraction)
    least, mid, most = split(spring.friction_n), split(0.0), split(-spring.friction_n)
    if rest_travel_m == 0.0 and mid.moved_fraction > 0.0:
        least = mid = _Split.equalised(spring, reading_pa + ambient_pa, rest_travel_m)
    return Inference(
        moved_fraction=Band(*(max(0.0, part.moved_fraction) for part in (least, mid, most))),
        negative_pa=Band(*(part.negative_absolute_pa - ambient_pa for part in (least, mid, most))),
        positive_pa=Band(reading_pa, reading_pa, reading_pa),
        equalised_pa=Band(*(part.equalised_absolute_pa - ambient_pa for part in (least, mid, most))),
    )


@dataclass(frozen=True)
class _Split:
    negative_absolute_pa: float
    equalised_absolute_pa: float
    moved_fraction: float

    @classmethod
    def equalised(cls, spring: AirSpring, positive_pa: float, travel_m: float) -> "_Split":
        shared_pa = positive_pa * spring.positive_volume_at(travel_m) / spring.positive_at_port_m3
        return cls(shared_pa * spring.negative_at_port_m3 / spring.negative_volume_at(travel_m), shared_pa, 0.0)

    @classmethod
    def of(cls, spring: AirSpring, positive_pa: float, negative_pa: float, travel_m: float) -> "_Split":
        positive_j = positive_pa * spring.positive_volume_at(travel_m)
        negative_j = negative_pa * spring.negative_volume_at(travel_m)
        shared_pa = (positive_j + negative_j) / (spring.positive_at_port_m3 + spring.negative_at_port_m3)
        return cls(negative_pa, shared_pa, 1 - positive_j / (shared_pa * spring.positive_at_port_m3))


def _refuse_too_shallow_for_earlier_pressure(highest_fraction: float) -> None:
    if highest_fraction < 0.0:
        raise ContradictoryReading(
            "rest_travel_m",
            "the fork rests shallower than it could with its chambers equalised at that pressure",
            likely_slip="Check the unit of the earlier pressure, and whether the fork was cycled after it was pumped.",
        )


def _refuse_too_deep(lowest_fraction: float) -> None:
    if lowest_fraction > 1.0:
        raise ContradictoryReading(
            "rest_travel_m",
            "the fork rests deeper than that pressure allows, even with all its gas in the negative chamber",
            likely_slip="Check the unit of the earlier pressure, and that nothing else holds the fork down.",
        )


def _refuse_too_shallow_for_reading(highest_fraction: float) -> None:
    if highest_fraction < 0.0:
        raise ContradictoryReading(
            "rest_travel_m",
            "the fork rests shallower than it could with its chambers equalised at that reading",
            likely_slip="Was the fork pumped and not cycled afterwards? Cycle it past the port, then read again.",
        )
