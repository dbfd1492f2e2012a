"""The air spring of a ticket's unit, and what the readings of its runs say about it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from diagnosis.hanging import what_hangs
from diagnosis.runs_state import RunState
from diagnosis.spring_answer import SpringAnswer, Verdict, answer_from_readings, in_unit
from diagnosis.spring_friction import with_friction
from diagnosis.spring_since import depths_read, what_was_and_is_left
from specs.contradictions import COILS
from specs.lookup import GeometryGap, spring_geometry
from specs.models import SpecValue
from specs.physics.air_spring import AirSpring, ImpossibleValue
from specs.physics.atmosphere import pressure_at_altitude
from workshop.plots.spring_curve import SpringCurve, spring_curve
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.work.rests import Rest, RestsRead, mounted_now, rests_read


@dataclass(frozen=True)
class SpringStory:
    """What the readings say of a spring: as it came in, and after the newest depth.

    `now` is the answer to the newest depth, that of arrival where none was read since; None where its pressure is not
    known, and `waits` says so. `since` tells what was wrong and what is left, `depths` every depth that was read.
    """

    arrival: SpringAnswer
    now: SpringAnswer | None
    waits: str = ""
    since: tuple[str, ...] = ()
    depths: str = ""
    is_proved: bool = False


@dataclass(frozen=True)
class SpringShown:
    """What the screen says of the spring: an answer with its drawing, or what is missing for one."""

    answer: SpringAnswer | None
    gap: GeometryGap | None
    curve: SpringCurve | None
    story: SpringStory | None = None

    @property
    def headline(self) -> str:
        """The newest answer in one line."""
        if self.story is not None and self.story.waits:
            return self.story.waits
        return self.answer.headline if self.answer is not None else ""


def spring_of(unit: SuspensionUnit, *, values: Mapping[str, SpecValue] | None = None) -> AirSpring | GeometryGap | None:
    """The spring to calculate with, or what is missing for it; None for a unit that has no such spring.

    `values` saves the query where the caller has looked the unit's spec values up already. What was measured on this
    unit and taken over goes before its model's values.
    """
    facts = unit.facts()
    if unit.model is None or unit.travel_m is None or facts.get("spring_kind") in COILS or unit.kind != "fork":
        return None
    return spring_geometry(unit.model, unit.travel_m, values=values, measured=unit.measured_geometry)


def spring_story(
    states: Iterable[RunState],
    unit: SuspensionUnit,
    shop: Shop,
    *,
    values: Mapping[str, SpecValue] | None = None,
    on_a_bike: bool = True,
) -> SpringStory | GeometryGap | None:
    """What the rest depths say, from arrival to the newest; None before a depth and the pump reading are there.

    A gap in the geometry is given back as it is, so that the screen can ask for the readings that close it.
    """
    rests = rests_read(list(states), on_a_bike=on_a_bike)
    if rests.arrival is None or rests.arrival_pa is None:
        return None
    spring = spring_of(unit, values=values)
    if not isinstance(spring, AirSpring):
        return spring
    try:
        return _story(_Asked(spring, rests, shop))
    except ImpossibleValue as impossible:
        return GeometryGap(reason=f"{impossible.reason[0].upper()}{impossible.reason[1:]}.")


def spring_shown(
    states: Iterable[RunState],
    unit: SuspensionUnit,
    shop: Shop,
    *,
    values: Mapping[str, SpecValue],
    on_a_bike: bool = True,
) -> SpringShown | None:
    """The newest answer with its curve; None before depth and pressure of the arrival are there."""
    story = spring_story(states, unit, shop, values=values, on_a_bike=on_a_bike)
    if story is None:
        return None
    if isinstance(story, GeometryGap):
        return SpringShown(None, story, None)
    answer = story.now or story.arrival
    curve = spring_curve(answer.spring, answer, shop.unit_for) if answer.spring is not None else None
    return SpringShown(answer, None, curve, story)


def answer_now(story: SpringStory | GeometryGap | None) -> SpringAnswer | None:
    """The answer that plans go by: that of the newest depth."""
    return story.now if isinstance(story, SpringStory) else None


def assumed_line(state: RunState, shown: SpringShown | None, shop: Shop, *, on_a_bike: bool) -> str:
    """What hangs on the fork as it is now, and its friction, in a short line: what is assumed, and what was read."""
    mounted = mounted_now(state.unit.conditions, on_a_bike=on_a_bike)
    line = what_hangs(mounted, rests_read([state], on_a_bike=on_a_bike).weighed, shop.unit_for).short
    answer = shown.answer if shown is not None else None
    if answer is not None and answer.friction_short:
        line = f"{line}; {answer.friction_short}"
    return f"{line[:1].upper()}{line[1:]}"


@dataclass(frozen=True)
class _Asked:
    spring: AirSpring
    rests: RestsRead
    shop: Shop

    @property
    def ambient_pa(self) -> float:
        return pressure_at_altitude(self.shop.altitude_m)

    def answer(
        self, rest: Rest, *, reading_pa: float | None = None, level_pa: float | None = None, friction: Rest | None
    ) -> SpringAnswer:
        """What a rest says, with the friction that was measured at `friction` where it was."""
        hanging = what_hangs(rest.mounted, self.rests.weighed, self.shop.unit_for)
        pushed_m, pulled_m = (friction.pushed_m, friction.pulled_m) if friction is not None else (None, None)

        def ask(spring: AirSpring, words: str) -> SpringAnswer:
            return answer_from_readings(
                spring,
                rest_travel_m=rest.travel_m,
                reading_pa=reading_pa,
                earlier_pa=level_pa,
                unit_for=self.shop.unit_for,
                ambient_pa=self.ambient_pa,
                hanging=hanging,
                friction_words=words,
                is_proved=rest.is_proved,
            )

        return with_friction(ask, self.spring, pushed_m, pulled_m, self.shop.unit_for)


def _story(asked: _Asked) -> SpringStory:
    rests = asked.rests
    first, newest = rests.arrival, rests.newest
    assert first is not None  # noqa: S101  asked for only where there is one
    assert newest is not None  # noqa: S101  as the first is
    arrival = asked.answer(first, reading_pa=rests.arrival_pa, friction=_measured(first))
    if newest is first:
        return SpringStory(arrival, arrival, is_proved=first.is_proved and arrival.verdict == Verdict.HEALTHY)
    depths = depths_read(
        [(rest.title if rest is not first else "", rest.travel_m) for rest in (first, *rests.later)],
        asked.shop.unit_for,
    )
    friction = next((rest for rest in reversed((first, *rests.later)) if _measured(rest)), None)
    if newest.pump_pa is not None:
        now = asked.answer(newest, reading_pa=newest.pump_pa, friction=friction)
    else:
        level_pa = _level_pa(asked, arrival, newest)
        if level_pa is None:
            return SpringStory(arrival, None, waits=_waits(newest, asked.shop), depths=depths)
        now = asked.answer(newest, level_pa=level_pa, friction=friction)
    since = what_was_and_is_left(arrival, now, newest.title, asked.shop.unit_for)
    return SpringStory(
        arrival, now, since=since, depths=depths, is_proved=newest.is_proved and now.verdict == Verdict.HEALTHY
    )


def _level_pa(asked: _Asked, arrival: SpringAnswer, newest: Rest) -> float | None:
    """What the fork holds level, of the last pressure that was read or set since air went in or out; None for none."""
    rests = asked.rests
    if rests.set_pa is not None and rests.set_pa_tick >= newest.air:
        return rests.set_pa
    for rest in reversed(rests.later):
        if rest.pump_pa is not None and newest.air <= rest.tick < newest.tick:
            found = asked.answer(rest, reading_pa=rest.pump_pa, friction=None)
            return None if found.verdict == Verdict.CONTRADICTION else found.level_pa
    known = newest.air <= rests.arrival_pa_tick and arrival.verdict != Verdict.CONTRADICTION
    return arrival.level_pa if known else None


def _measured(rest: Rest) -> Rest | None:
    return rest if rest.pushed_m is not None and rest.pulled_m is not None else None


def _waits(newest: Rest, shop: Shop) -> str:
    depth = in_unit(newest.travel_m, "length", shop.unit_for)
    return (
        f"It rests {depth} in since “{newest.title}”. Its pressure is not known any more: "
        "read the pump and enter it with the depth."
    )
