"""What was wrong with a spring as it came in, and what is left of it after the newest rest depth. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from diagnosis.spring_answer import SpringAnswer, UnitFor, Verdict, in_unit


def depths_read(depths: Sequence[tuple[str, float]], unit_for: UnitFor) -> str:
    """Each depth (m) with the step it was read at, "" for the arrival, as one line."""
    told = [
        f"{in_unit(travel_m, 'length', unit_for)} {f'after “{title}”' if title else 'as it came in'}"
        for title, travel_m in depths
    ]
    return f"Rest depths read: {', '.join(told)}."


def what_was_and_is_left(was: SpringAnswer, now: SpringAnswer, title: str, unit_for: UnitFor) -> tuple[str, ...]:
    """What was wrong, and what is left since the step of that title; one sentence each."""
    return (f"What was wrong: {_state(was, unit_for)}.", f"What is left after “{title}”: {_left(was, now, unit_for)}.")


def _state(answer: SpringAnswer, unit_for: UnitFor) -> str:
    depth = in_unit(answer.rest_travel_m, "length", unit_for)
    if answer.verdict == Verdict.CONTRADICTION:
        return f"not known, for the readings as it came in ({depth}) contradict each other"
    if not answer.is_stuck:
        return f"nothing that its rest shows, at {depth}"
    return f"it rested {depth} in, {_moved(answer, unit_for)} of its air on the negative side"


def _left(was: SpringAnswer, now: SpringAnswer, unit_for: UnitFor) -> str:
    depth = in_unit(now.rest_travel_m, "length", unit_for)
    if now.verdict == Verdict.CONTRADICTION:
        return f"not known, for {depth} and the pressure contradict each other"
    if not now.is_stuck:
        return f"nothing, it rests {depth} in as a healthy one does"
    gained_m = was.rest_travel_m - now.rest_travel_m
    more = "" if gained_m <= 0 else f", {in_unit(gained_m, 'length', unit_for)} less than it came in"
    return f"it rests {depth} in{more}, {_moved(now, unit_for)} of its air still on the negative side"


def _moved(answer: SpringAnswer, unit_for: UnitFor) -> str:
    if answer.inference is None:
        return "some"
    return in_unit(answer.inference.moved_fraction.mid, "fraction", unit_for)
