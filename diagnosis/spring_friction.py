"""The friction of a fork in its spring’s answer: measured by two rests, or as it is on record. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from diagnosis.spring_answer import SpringAnswer, UnitFor
from specs.physics.air_spring import AirSpring, ContradictoryReading, friction_from_rests
from specs.units import from_si

Ask = Callable[[AirSpring, str], SpringAnswer]
"""Gives the answer for a spring, and words for where its friction is from."""


def with_friction(
    ask: Ask, spring: AirSpring, pushed_m: float | None, pulled_m: float | None, unit_for: UnitFor
) -> SpringAnswer:
    """The answer with the friction that the rests after a push and after a pull (m) give; assumed where they do not.

    The gas that the answer finds does not depend on friction in its middle, so one answer serves to measure with.
    """
    said = f"friction {_force(spring.friction_n, unit_for)}"
    assumed = replace(ask(spring, _assumed(spring, unit_for)), friction_short=f"{said}, assumed")
    if pushed_m is None or pulled_m is None or assumed.state is None:
        return assumed
    try:
        found = friction_from_rests(spring, assumed.state, pushed_m, pulled_m)
    except ContradictoryReading as refused:
        words = f"Friction is not measured: {refused.reason}. {refused.likely_slip} {_assumed(spring, unit_for)}"
        return replace(ask(spring, words), friction_short=f"{said}, assumed")
    measured = _force(found.newtons.mid, unit_for)
    if found.is_floor:
        friction_n = max(spring.friction_n, found.newtons.mid)
        words = f"Friction at least {measured}, for an end stop held a rest. {_assumed(spring, unit_for)}"
        return replace(
            ask(replace(spring, friction_n=friction_n), words), friction_short=f"friction {measured} or more"
        )
    low, high = (_force(newtons, unit_for) for newtons in (found.newtons.low, found.newtons.high))
    words = f"Friction {measured} ({low.split()[0]} to {high}), measured by a push and a pull."
    return replace(
        ask(replace(spring, friction_n=found.newtons.mid), words), friction_short=f"friction {measured}, measured"
    )


def _assumed(spring: AirSpring, unit_for: UnitFor) -> str:
    return f"Friction {_force(spring.friction_n, unit_for)} is assumed as on record, not measured here."


def _force(force_n: float, unit_for: UnitFor) -> str:
    """To the newton: a rule on a stanchion tells no more."""
    unit = unit_for("force")
    return f"{from_si(force_n, 'force', unit):.{0 if unit == 'N' else 1}f} {unit}"
