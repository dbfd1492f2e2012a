"""What letting the air out of this fork leaves behind, and why the core is held open through the port. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from diagnosis.hanging import Hanging
from diagnosis.spring_answer import (
    GAUGE_READING_PA,
    ONE_PERSON_N,
    NumberRow,
    SpringAnswer,
    UnitFor,
    in_unit,
    number_row,
    pull_in_words,
)
from specs.physics.air_spring import AirSpring, Band, ChamberState, after_strokes, emptied, pull_at_pressure, stuck

_STROKES = 4


@dataclass(frozen=True)
class EmptyingAnswer:
    """One line, why, the numbers with their bands, and what was assumed."""

    headline: str
    sentences: tuple[str, ...]
    numbers: tuple[NumberRow, ...]
    assumed: tuple[str, ...]


def what_stays(answer: SpringAnswer, hanging: Hanging, unit_for: UnitFor) -> EmptyingAnswer | None:
    """For the gas that an answer found, with that hanging on the fork now; None where the answer found none."""
    spring, state = answer.spring, answer.state
    if spring is None or state is None:
        return None
    states = _states(spring, state, answer)
    loads = {hanging.newtons.low, hanging.newtons.mid, hanging.newtons.high}
    ends = [emptied(spring, one, hanging_n=load_n) for one in states for load_n in loads]
    middle = emptied(spring, state, hanging_n=hanging.newtons.mid)
    rest = _around([end.rest_travel_m for end in ends], middle.rest_travel_m.mid)
    left = _around([end.negative_pa for end in ends], middle.negative_pa.mid)
    pull = _around([pull_at_pressure(spring, one, 0.0) for one in states], pull_at_pressure(spring, state, 0.0).high)
    by_strokes = after_strokes(spring, state, _STROKES, vent_travel_m=rest.mid)
    depth, kept = in_unit(rest.mid, "length", unit_for), in_unit(left.mid, "pressure", unit_for)
    if left.high <= GAUGE_READING_PA:
        headline = f"Let out as it stands, it rests {depth} in, and its negative chamber keeps next to nothing."
    else:
        low = in_unit(left.low, "pressure", unit_for).split()[0]
        high = in_unit(left.high, "pressure", unit_for)
        at_most = "" if answer.is_stuck else "at most "
        headline = (
            f"Let out as it stands, it sinks to {depth} and keeps {at_most}{kept} ({low} to {high}) in its negative "
            "chamber: pressed until nothing comes, the core says nothing of that."
        )
    return EmptyingAnswer(
        headline=headline,
        sentences=(
            "The core opens the positive chamber only. The negative one empties through the port, and only while the "
            "core is held open: so it is held open until the fork is drawn out through its port.",
            _in_strokes(by_strokes, unit_for),
            _drawn_out(pull, unit_for),
        ),
        numbers=(
            number_row("Rest with the core open", rest, "length", unit_for),
            number_row("Left in the negative chamber", left, "pressure", unit_for),
            number_row("Pull to draw it out to its port, core open", pull, "force", unit_for),
        ),
        assumed=(
            hanging.words,
            "No air passes the port on the way down; slow changes, so that the air keeps the room’s temperature.",
        ),
    )


def _states(spring: AirSpring, state: ChamberState, answer: SpringAnswer) -> list[ChamberState]:
    """The gas as found, and at both ends of what is known of it."""
    found = answer.inference
    if found is None or not answer.is_stuck:
        return [state]
    ends = [
        stuck(spring, shared_pa, min(moved, 1.0), ambient_pa=state.ambient_pa)
        for shared_pa, moved in (
            (found.equalised_pa.low, found.moved_fraction.low),
            (found.equalised_pa.high, found.moved_fraction.high),
        )
    ]
    return [state, *ends]


def _around(bands: list[Band], mid: float) -> Band:
    return Band(min(band.low for band in bands), mid, max(band.high for band in bands))


def _in_strokes(shared_pa: list[float], unit_for: UnitFor) -> str:
    """What each stroke leaves that lets go of the core before the fork is drawn out."""
    told = []
    for number, gauge_pa in enumerate(shared_pa, start=1):
        is_none = gauge_pa < GAUGE_READING_PA
        left = "none that a gauge shows" if is_none else in_unit(gauge_pa, "pressure", unit_for)
        told.append(f"{left} after {number}")
        if is_none:
            break
    return (
        "Let go of the core first and draw it out then, and both chambers level at the port again; "
        f"counted in such strokes it keeps {', '.join(told)}."
    )


def _drawn_out(pull: Band, unit_for: UnitFor) -> str:
    if pull.mid <= 0:
        return "With the core open it comes out to its port by itself."
    said = f"With the core open, drawing it out to its port needs about {pull_in_words(pull.mid, unit_for)}"
    if pull.mid <= ONE_PERSON_N:
        return f"{said}: one person can do that."
    return (
        f"{said}: more than one person can pull. Free its port first. If that fails, the negative chamber stays "
        "loaded: do not open the air leg, and use the maker’s method for trapped air."
    )
