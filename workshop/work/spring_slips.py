"""Readings of a spring that cannot be on this fork, or not together: named at their field, with the likely slip."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from diagnosis.declared import (
    ARRIVAL_PRESSURE,
    REST_DEPTH,
    REST_PRESSURE,
    REST_PULLED,
    REST_PUSHED,
    key_measuring,
    measured_by_key,
)
from diagnosis.layout_plans import PROOF
from diagnosis.models import Step
from diagnosis.runs_readings import ReadingsRefused, read_all
from diagnosis.spring_answer import SpringAnswer, Verdict, in_unit
from specs.physics.air_spring import greatest_moved_fraction
from specs.physics.air_spring.rest import RULE_READING_M
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.sent import Sent
from workshop.work.spring import SpringStory, spring_story
from workshop.work.work import ForkValues, run_states
from workshop.work.yardsticks import typed_at

_DEPTHS = frozenset({REST_DEPTH, REST_PUSHED, REST_PULLED})
_PRESSURES = (ARRIVAL_PRESSURE, REST_PRESSURE)
# More than a leak past the piston can move, by more than readings explain; as in the answer's own words.
_BEYOND_A_LEAK = 0.02


def tells_of_spring(step: Step, typed: Collection[str]) -> bool:
    """Whether a depth or a pressure of the spring was typed at all."""
    measures = measured_by_key(step.readings)
    return any(measures.get(key) in _DEPTHS or measures.get(key) in _PRESSURES for key in typed)


def refuse_rests(shop: Shop, step: Step, typed: Mapping[str, str], fork_travel_m: float | None) -> None:
    """Raises ReadingsRefused for a depth beyond the fork's travel, and for rests that give no friction."""
    plans = [plan for plan in step.readings if plan.get("measures") in _DEPTHS and plan["key"] in typed]
    given = typed_at(shop, step, {plan["key"]: typed[plan["key"]] for plan in plans}, {})
    read = {reading.key: reading.magnitude_si for reading in read_all(plans, given)}
    errors = {}
    for plan in plans:
        travel_m = read.get(plan["key"])
        if travel_m is not None and fork_travel_m is not None and travel_m > fork_travel_m + RULE_READING_M:
            depth, most = (in_unit(value, "length", shop.unit_for) for value in (travel_m, fork_travel_m))
            errors[plan["key"]] = (
                f"{depth} is more than this fork’s travel of {most}. "
                "Was the exposed stanchion entered, and not how far it sits below full extension?"
            )
    pushed_key, pulled_key = (key_measuring(step.readings, measure) for measure in (REST_PUSHED, REST_PULLED))
    pushed_m, pulled_m = read.get(pushed_key or ""), read.get(pulled_key or "")
    if pushed_key and pushed_m is not None and pulled_m is not None and pushed_m + RULE_READING_M < pulled_m:
        errors.setdefault(
            pushed_key,
            "Pushed down and let go it cannot rest shallower than pulled up and let go. Were the two readings swapped?",
        )
    if errors:
        raise ReadingsRefused(errors)


def may_contradict(step: Step, sent: Sent, steps: Iterable[Step], answered: Collection[str]) -> bool:
    """Whether what was typed has a depth and a pressure to be held together, so that the fork's values are asked for.

    A proof is judged by its evidence, and says so in the note; an arrival depth alone waits for its pressure.
    """
    measures = {measured_by_key(step.readings).get(key) for key in sent.typed}
    if step.kind == PROOF or not measures & {REST_DEPTH, *_PRESSURES}:
        return False
    if measures & set(_PRESSURES):
        return True
    return any(key_measuring(other.readings, ARRIVAL_PRESSURE) for other in steps if other.key in answered) and not (
        any(plan.get("measures") == REST_DEPTH and plan.get("required") for plan in step.readings)
    )


def refuse_contradiction(ticket: Ticket, values: ForkValues, step: Step, sent: Sent) -> None:
    """Raises ReadingsRefused where depth and pressure contradict each other; a pressure is taken with a reason."""
    story = spring_story(
        run_states(ticket), ticket.unit, ticket.shop, values=values.values, on_a_bike=ticket.bike_id is not None
    )
    if not isinstance(story, SpringStory):
        return
    arrival_key = key_measuring(step.readings, ARRIVAL_PRESSURE)
    answer = story.arrival if arrival_key in sent.typed else story.now
    said = "" if answer is None else _contradiction(answer)
    if not said:
        return
    keys = [key for measure in (*_PRESSURES, REST_DEPTH) if (key := key_measuring(step.readings, measure))]
    key = next(key for key in keys if key in sent.typed)
    has_reason_field = key_measuring(step.readings, REST_DEPTH) != key
    if not has_reason_field:
        raise ReadingsRefused({key: said})
    if not sent.reasons.get(key):
        raise ReadingsRefused({key: f"{said} Enter it anew, or say why it is so all the same."}, want_reasons={key})


def _contradiction(answer: SpringAnswer) -> str:
    """Why depth and pressure cannot both be so, with the likely slip; empty where they can."""
    if answer.verdict == Verdict.CONTRADICTION:
        return " ".join(answer.sentences)
    if answer.inference is None or answer.spring is None:
        return ""
    if answer.inference.moved_fraction.low > greatest_moved_fraction(answer.spring) + _BEYOND_A_LEAK:
        return (
            "So deep a rest at that pressure needs more air moved than a leak past the piston can move. "
            "Was the depth measured from full extension, and the gauge read in another unit?"
        )
    return ""
