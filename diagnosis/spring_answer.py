"""What a rest depth and a pressure say about a fork's air spring, in words a mechanic can act on. Pure.

The arithmetic is `specs.physics.air_spring`; this module chooses what to say and admits what it assumed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from diagnosis.hanging import NOTHING_HANGS, Hanging, healthy_hanging
from specs.physics.air_spring import (
    AirSpring,
    Band,
    ChamberState,
    ContradictoryReading,
    Inference,
    equalised,
    greatest_moved_fraction,
    infer_from_earlier_pressure,
    infer_from_reading,
    pressure_to_reach_port,
    pull_after_filling,
    pull_at_pressure,
    pull_to_port,
    stuck,
)
from specs.physics.air_spring.rest import RULE_READING_M
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.units import from_si, number_text

UnitFor = Callable[[str], str]

# What one person pulls on a fork held by a second one; common practice, no published source.
ONE_PERSON_N = 500.0
ONE_PERSON_WORDS = "One person pulls up to {} (common practice, no published source)."
FEET_WORDS = "The feet hold the axle while it is pulled, so what hangs on it does not help."
# A shock pump's gauge is read to about this; common practice, no published source.
GAUGE_READING_PA = 14000.0
NEWTONS_A_KILOGRAM = 9.80665
"""Standard gravity (NIST SP 811), to say a pull as a weight."""


class Verdict(StrEnum):
    """What the readings amount to."""

    HEALTHY = "healthy"
    STUCK_PULLS_FREE = "stuck_pulls_free"
    STUCK_PRESSURE_FREES = "stuck_pressure_frees"
    STUCK_BOTH_FREE = "stuck_both_free"
    STUCK_LOWERS_OFF = "stuck_lowers_off"
    CONTRADICTION = "contradiction"


_STUCK = frozenset(
    {Verdict.STUCK_PULLS_FREE, Verdict.STUCK_PRESSURE_FREES, Verdict.STUCK_BOTH_FREE, Verdict.STUCK_LOWERS_OFF}
)
_TAKE_APART = "let all the air out, prove that it is out, and take the lowers off."


@dataclass(frozen=True)
class NumberRow:
    """One computed number with its band, already in the shop's units."""

    label: str
    value: str
    band: str


@dataclass(frozen=True)
class SpringAnswer:
    """Words first, then the numbers, then what was assumed. `rest`, `state` and `healthy` feed the curve."""

    verdict: Verdict
    headline: str
    sentences: tuple[str, ...]
    numbers: tuple[NumberRow, ...]
    assumed: tuple[str, ...]
    for_customer: str
    rest_travel_m: float
    pressure_pa: float
    healthy: Band | None = None
    state: ChamberState | None = None
    inference: Inference | None = None
    ambient_pa: float = SEA_LEVEL_PA
    spring: AirSpring | None = None
    friction_short: str = ""
    greatest_pull_n: float | None = None
    """The most that pulling it out to its port can need, with no pressure added; None where it is not stuck."""

    @property
    def is_stuck(self) -> bool:
        return self.verdict in _STUCK

    @property
    def level_pa(self) -> float:
        """The pressure (gauge) that its air comes to with the chambers level."""
        return self.inference.equalised_pa.mid if self.inference is not None else self.pressure_pa


def answer_from_readings(
    spring: AirSpring,
    *,
    rest_travel_m: float,
    reading_pa: float | None = None,
    earlier_pa: float | None = None,
    unit_for: UnitFor,
    ambient_pa: float = SEA_LEVEL_PA,
    hanging: Hanging = NOTHING_HANGS,
    friction_words: str = "",
    is_proved: bool = False,
) -> SpringAnswer:
    """What a rest depth says, with a pump reading at that depth or with the pressure it held before.

    The reading is used where both are given, since it needs no memory. Pressures are gauge. `hanging` is what hung on
    it while its rest was read, `friction_words` where its friction is from, `is_proved` that a proof read it.

    Raises:
        specs.physics.errors.ImpossibleValue: a value no fork of this geometry can have; names the field.
        ValueError: neither pressure is given.
    """
    if reading_pa is None and earlier_pa is None:
        raise ValueError("reading_pa: a pump reading or an earlier pressure is needed")
    assumed = [
        hanging.words,
        *([friction_words] if friction_words else []),
        "The lower legs were closed at today’s air pressure.",
        "Slow changes, so that the air keeps the room’s temperature; air taken as an ideal gas.",
    ]
    try:
        if reading_pa is not None:
            found = _inferred(spring, infer_from_reading, reading_pa, rest_travel_m, ambient_pa, hanging)
            pressure_pa = found.equalised_pa.mid
        else:
            assert earlier_pa is not None  # noqa: S101  one of the two is given
            found = _inferred(spring, infer_from_earlier_pressure, earlier_pa, rest_travel_m, ambient_pa, hanging)
            pressure_pa = earlier_pa
            assumed.append("No air was lost since the fork held that pressure.")
    except ContradictoryReading as contradiction:
        given_pa = reading_pa if reading_pa is not None else earlier_pa or 0.0
        near_port = healthy_hanging(spring, max(given_pa, 0.0), hanging, ambient_pa=ambient_pa)
        if near_port.contains(rest_travel_m):  # within what a rule resolves: no reason to doubt anybody
            return _healthy(spring, None, near_port, rest_travel_m, given_pa, unit_for, assumed, ambient_pa, is_proved)
        return _contradiction(contradiction, rest_travel_m, given_pa)
    healthy = healthy_hanging(spring, max(pressure_pa, 0.0), hanging, ambient_pa=ambient_pa)
    if rest_travel_m <= max(healthy.high, spring.port_travel_m + RULE_READING_M):
        return _healthy(spring, found, healthy, rest_travel_m, pressure_pa, unit_for, assumed, ambient_pa, is_proved)
    if earlier_pa is not None and reading_pa is not None:
        assumed.append(_compared_with_earlier(pressure_pa, earlier_pa, unit_for))
    return _stuck(spring, found, healthy, rest_travel_m, pressure_pa, unit_for, assumed, ambient_pa)


def moved_share_in_words(share: float) -> str:
    """A share of the air as people say it: “about a quarter”, “about a third”, “almost none”."""
    known = (
        (0.03, "almost none"), (0.1, "about a tenth"), (0.2, "about a fifth"), (0.25, "about a quarter"),
        (1 / 3, "about a third"), (0.4, "about two fifths"), (0.5, "about half"), (0.6, "about three fifths"),
        (2 / 3, "about two thirds"), (0.75, "about three quarters"), (0.9, "about nine tenths"), (1.0, "almost all"),
    )  # fmt: skip
    return min(known, key=lambda pair: abs(pair[0] - share))[1]


def _inferred(
    spring: AirSpring,
    infer: Callable[..., Inference],
    pressure_pa: float,
    rest_travel_m: float,
    ambient_pa: float,
    hanging: Hanging,
) -> Inference:
    """Where the gas is, the range of what hangs within the bands. Contradictory only where nothing in it fits."""
    newtons = hanging.newtons
    loads = (newtons.mid,) if newtons.low == newtons.high else (newtons.mid, newtons.low, newtons.high)
    found: dict[float, Inference] = {}
    refused: ContradictoryReading | None = None
    for load_n in loads:
        try:
            found[load_n] = infer(spring, pressure_pa, rest_travel_m, ambient_pa=ambient_pa, hanging_n=load_n)
        except ContradictoryReading as contradiction:
            refused = refused or contradiction
    if not found:
        assert refused is not None  # noqa: S101  nothing found is something refused
        raise refused
    least, most = found[min(found)], found[max(found)]
    mid = found.get(newtons.mid, least)
    return Inference(
        *(
            Band(min(low.low, high.low), middle.mid, max(low.high, high.high))
            for low, middle, high in (
                (least.moved_fraction, mid.moved_fraction, most.moved_fraction),
                (least.negative_pa, mid.negative_pa, most.negative_pa),
                (least.positive_pa, mid.positive_pa, most.positive_pa),
                (least.equalised_pa, mid.equalised_pa, most.equalised_pa),
            )
        )
    )


def _healthy(
    spring: AirSpring,
    found: Inference | None,
    healthy: Band,
    rest_travel_m: float,
    pressure_pa: float,
    unit_for: UnitFor,
    assumed: list[str],
    ambient_pa: float,
    is_proved: bool,
) -> SpringAnswer:
    level = found.equalised_pa if found else Band(pressure_pa, pressure_pa, pressure_pa)
    limit_m = max(healthy.high, spring.port_travel_m + RULE_READING_M)
    depth, deepest = (in_unit(value, "length", unit_for) for value in (rest_travel_m, limit_m))
    return SpringAnswer(
        verdict=Verdict.HEALTHY,
        headline=f"Healthy: it rests {depth} in, where a healthy one of this kind does.",
        sentences=(
            f"With its chambers level at {in_unit(pressure_pa, 'pressure', unit_for)} this fork may rest up to "
            f"{deepest} into its travel.{'' if is_proved else ' Look for the cause elsewhere.'}",
        ),
        numbers=(
            number_row("Healthy rest depth", healthy, "length", unit_for),
            number_row("Pressure with the chambers level", level, "pressure", unit_for),
        ),
        assumed=tuple(assumed),
        for_customer=(
            f"{'Healthy: the' if is_proved else 'The'} fork rests {depth} into its travel, which is normal for this "
            "kind of fork."
        ),
        rest_travel_m=rest_travel_m,
        pressure_pa=pressure_pa,
        healthy=healthy,
        state=equalised(spring, pressure_pa, ambient_pa=ambient_pa),
        inference=found,
        ambient_pa=ambient_pa,
        spring=spring,
    )


def _stuck(
    spring: AirSpring,
    found: Inference,
    healthy: Band,
    rest_travel_m: float,
    pressure_pa: float,
    unit_for: UnitFor,
    assumed: list[str],
    ambient_pa: float,
) -> SpringAnswer:
    states = [
        stuck(spring, shared_pa, min(moved, 1.0), ambient_pa=ambient_pa)
        for shared_pa, moved in zip(_ends(found.equalised_pa), _ends(found.moved_fraction), strict=True)
    ]
    maximum_pa = spring.max_pressure_pa
    pull = Band(*sorted(pull_to_port(spring, state, rest_travel_m) for state in states))
    needed = Band(*sorted(pressure_to_reach_port(spring, state, rest_travel_m) for state in states))
    # friction against the pull, as in the other two
    both = Band(*sorted(pull_at_pressure(spring, state, maximum_pa).high for state in states))
    filled_once = Band(*sorted(pull_after_filling(spring, state, rest_travel_m, maximum_pa).high for state in states))
    maximum = in_unit(maximum_pa, "pressure", unit_for)
    verdict = _verdict(pull.mid, needed.mid, both.mid, maximum_pa)
    moved_words = moved_share_in_words(found.moved_fraction.mid)
    first = (
        f"{moved_words[0].upper()}{moved_words[1:]} of the air has moved to the negative side and holds the fork down."
    )
    weight = pull_in_words(pull.mid, unit_for)
    by_hand = (
        f"Pulling it out by hand needs about {weight}: one person can do that."
        if pull.mid <= ONE_PERSON_N
        else f"Pulling it out by hand alone needs about {weight}: more than one person can pull."
    )
    needed_text = in_unit(needed.mid, "pressure", unit_for)
    by_air = (
        f"Pressure alone can push it out to the port: about {needed_text}, below this fork’s maximum of {maximum}. "
        "Never go above the maximum."
        if needed.mid <= maximum_pa
        else f"Pressure alone will not free it: that would need about {needed_text}, and this fork’s maximum is "
        f"{maximum}. Never go above the maximum."
    )
    what_next, if_not = _what_next(verdict, both.mid, maximum)
    sentences = [
        first,
        by_hand,
        by_air,
        *_by_both(pull.mid, needed.mid, both.mid, filled_once.mid, maximum_pa, unit_for),
        what_next,
        *([if_not] if if_not else []),
    ]
    if found.moved_fraction.low > greatest_moved_fraction(spring) + 0.02:
        sentences.append(
            "A leak past the piston cannot move that much air: measure the rest depth and the pressure again."
        )
    if (
        needed.low <= maximum_pa < needed.high
        or pull.low <= ONE_PERSON_N < pull.high
        or (needed.mid > maximum_pa and both.low <= ONE_PERSON_N < both.high)
    ):
        sentences.append("The seals’ friction leaves this open within the ranges below, so try the cheaper way first.")
    return SpringAnswer(
        verdict=verdict,
        headline=f"Stuck down: it rests {in_unit(rest_travel_m, 'length', unit_for)} in. {what_next}",
        sentences=tuple(sentences),
        numbers=(
            number_row("Healthy rest depth", healthy, "length", unit_for),
            number_row("Air moved to the negative side", found.moved_fraction, "fraction", unit_for),
            number_row("Pressure in the negative chamber", found.negative_pa, "pressure", unit_for),
            number_row("Pressure in the positive chamber", found.positive_pa, "pressure", unit_for),
            number_row("Pressure with the chambers level", found.equalised_pa, "pressure", unit_for),
            number_row("Pull needed to reach the port", pull, "force", unit_for),
            number_row("Pressure needed to reach the port", needed, "pressure", unit_for),
            NumberRow("Maximum pressure of this fork", maximum, ""),
            *_pull_rows(both, filled_once, unit_for),
        ),
        assumed=(*assumed, ONE_PERSON_WORDS.format(in_unit(ONE_PERSON_N, "force", unit_for)), FEET_WORDS),
        for_customer=(
            f"{moved_words[0].upper()}{moved_words[1:]} of the air in your fork had slipped into the chamber that "
            "pulls it down. " + _customer_reason(verdict, pull_in_words(pull.mid, unit_for), both.mid, maximum)
        ),
        rest_travel_m=rest_travel_m,
        pressure_pa=pressure_pa,
        healthy=healthy,
        state=states[1],
        greatest_pull_n=pull.high,
        inference=found,
        ambient_pa=ambient_pa,
        spring=spring,
    )


def _verdict(pull_n: float, needed_pa: float, both_n: float, maximum_pa: float) -> Verdict:
    """The cheapest and safest way that is enough: by hand, by pressure, by both; else it comes apart."""
    if pull_n <= ONE_PERSON_N:
        return Verdict.STUCK_PULLS_FREE
    if needed_pa <= maximum_pa:
        return Verdict.STUCK_PRESSURE_FREES
    return Verdict.STUCK_BOTH_FREE if both_n <= ONE_PERSON_N else Verdict.STUCK_LOWERS_OFF


def _what_next(verdict: Verdict, both_n: float, maximum: str) -> tuple[str, str]:
    """What to do now, and what to do if that does not free it."""
    together = f"pump it to {maximum}, never above, and pull as well"
    if verdict == Verdict.STUCK_PULLS_FREE:
        return (
            "Pull it out by hand and let the chambers even out, before anything comes apart.",
            f"If it does not come: {together}.",
        )
    if verdict == Verdict.STUCK_PRESSURE_FREES:
        return "Free the port with pressure before anything comes apart.", f"If it does not come: {together}."
    if verdict == Verdict.STUCK_BOTH_FREE:
        return (
            f"One person can free it at its maximum of {maximum} with about {_kilograms(both_n)} kg of pull.",
            f"If it does not come: top up to {maximum} where it stands, never above, and pull again. "
            f"If it still does not: {_TAKE_APART}",
        )
    return f"{_TAKE_APART[0].upper()}{_TAKE_APART[1:]}", ""


def _by_both(
    pull_n: float, needed_pa: float, both_n: float, once_n: float, maximum_pa: float, unit_for: UnitFor
) -> list[str]:
    """What pull is left at the maximum; nothing where hand or pressure alone is enough."""
    if pull_n <= ONE_PERSON_N or needed_pa <= maximum_pa:
        return []
    left = f"Held at its maximum, it needs about {pull_in_words(both_n, unit_for)}, besides"
    if both_n > ONE_PERSON_N:
        return [f"{left}: more than one person can pull."]
    can = "one person can do that" if once_n <= ONE_PERSON_N else "more than one person can pull, so top it up"
    return [
        f"{left}: one person can do that.",
        f"The pressure falls as the fork comes out. Filled once where it stands, it needs up to about "
        f"{pull_in_words(once_n, unit_for)}: {can}.",
    ]


def _pull_rows(both: Band, filled_once: Band, unit_for: UnitFor) -> list[NumberRow]:
    """The pull left at the maximum; none where pressure alone is sure to push it out."""
    if both.high <= 0:
        return []
    return [
        number_row("Pull needed with the maximum held", both, "force", unit_for),
        number_row("Pull needed when filled once to the maximum", filled_once, "force", unit_for),
    ]


def _customer_reason(verdict: Verdict, pull_text: str, both_n: float, maximum: str) -> str:
    if verdict == Verdict.STUCK_LOWERS_OFF:
        return (
            f"Pulling it back out would take about {pull_text}. Even with the highest pressure the fork may hold, "
            "what is left is more than a person can pull. That is why the lower legs have to come off."
        )
    if verdict == Verdict.STUCK_BOTH_FREE:
        return (
            "It is too much to pull out by hand, and pressure alone within the fork’s limit cannot push it out, "
            f"but both together can: at its maximum of {maximum} one person frees it with about "
            f"{_kilograms(both_n)} kg of pull. If that does not do it, the lower legs have to come off."
        )
    if verdict == Verdict.STUCK_PRESSURE_FREES:
        return "It is too much to pull out by hand, but pressure within the fork’s limit can push it out."
    return "It can be pulled back out by hand, without taking the fork apart."


def _contradiction(contradiction: ContradictoryReading, rest_travel_m: float, pressure_pa: float) -> SpringAnswer:
    reason = f"{contradiction.reason[0].upper()}{contradiction.reason[1:]}."
    return SpringAnswer(
        verdict=Verdict.CONTRADICTION,
        headline="These readings cannot both be true.",
        sentences=(reason, contradiction.likely_slip),
        numbers=(),
        assumed=(),
        for_customer="",
        rest_travel_m=rest_travel_m,
        pressure_pa=pressure_pa,
    )


def _compared_with_earlier(level_pa: float, earlier_pa: float, unit_for: UnitFor) -> str:
    lost_pa = earlier_pa - level_pa
    now = in_unit(level_pa, "pressure", unit_for)
    if abs(lost_pa) <= GAUGE_READING_PA:
        return f"The pressure now, with the chambers level, agrees with the earlier one ({now})."
    if lost_pa > 0:
        lost = in_unit(lost_pa, "pressure", unit_for)
        return f"Level, the chambers would now hold {now}, {lost} less than before: air was lost."
    return f"Level, the chambers would now hold {now}, more than the earlier pressure: the fork was pumped since."


def _ends(band: Band) -> tuple[float, float, float]:
    return band.low, band.mid, band.high


# Decimals that the answer is good for, by unit; -1 is tens.
_GOOD_TO = {"psi": 0, "bar": 1, "kPa": -1, "N": -1, "lbf": 0, "kgf": 0, "mm": 1, "in": 2, "%": 0}


def in_unit(magnitude_si: float, dimension: str, unit_for: UnitFor) -> str:
    """A magnitude in the shop's unit, to the decimals that the answer is good for."""
    unit = unit_for(dimension)
    return f"{_number(magnitude_si, dimension, unit)} {unit}"


def _number(magnitude_si: float, dimension: str, unit: str) -> str:
    return number_text(round(from_si(magnitude_si, dimension, unit), _GOOD_TO[unit]), unit)


def pull_in_words(pull_n: float, unit_for: UnitFor) -> str:
    """A pull in the shop's unit, and as a weight."""
    return f"{in_unit(pull_n, 'force', unit_for)}, as heavy as lifting {_kilograms(pull_n)} kg"


def _kilograms(pull_n: float) -> int:
    """A pull as a weight, rounded up: what is needed is not said too small."""
    return math.ceil(pull_n / NEWTONS_A_KILOGRAM)


def range_in_unit(band: Band, dimension: str, unit_for: UnitFor) -> str:
    """A band in the shop's unit, “18 to 24 N”."""
    return f"{_number(band.low, dimension, unit_for(dimension))} to {in_unit(band.high, dimension, unit_for)}"


def number_row(label: str, band: Band, dimension: str, unit_for: UnitFor) -> NumberRow:
    """A value with its band, both in the shop's unit."""
    spread = "" if band.low == band.high else range_in_unit(band, dimension, unit_for)
    return NumberRow(label, in_unit(band.mid, dimension, unit_for), spread)
