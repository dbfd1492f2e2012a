"""Readings of a spring that cannot be on this fork, or not together: named at their field, with the likely slip."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from diagnosis.declared import (
    ARRIVAL_PRESSURE,
    PULL,
    REST_DEPTH,
    REST_PRESSURE,
    REST_PULLED,
    REST_PUSHED,
    key_measuring,
    measured_by_key,
)
from diagnosis.judging import WantedSpan, Yardstick, slip_of
from diagnosis.layout_plans import PROOF
from diagnosis.models import Step
from diagnosis.runs_readings import ReadingsRefused, read_all
from diagnosis.spring_answer import SpringAnswer, Verdict, in_unit
from specs.physics.air_spring import greatest_moved_fraction
from specs.physics.air_spring.rest import RULE_READING_M
from specs.units import show
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.sent import Sent
from workshop.work.spring import SpringStory, spring_story
from workshop.work.work import ForkValues, run_states
from workshop.work.yardsticks import typed_at

_DEPTHS = frozenset({REST_DEPTH, REST_PUSHED, REST_PULLED})
_PRESSURES = (ARRIVAL_PRESSURE, REST_PRESSURE)
# What a hanging scale held by hand is read to; common practice, no published source.
_SCALE_OFF = 0.1
# More than a leak past the piston can move, by more than readings explain; as in the answer's own words.
_BEYOND_A_LEAK = 0.02


def tells_of_spring(step: Step, typed: Collection[str]) -> bool:
    """Whether a depth or a pressure of the spring was typed at all."""
    measures = measured_by_key(step.readings)
    return any(measures.get(key) in (*_DEPTHS, *_PRESSURES, PULL) for key in typed)


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
    if step.kind == PROOF or not measures & {REST_DEPTH, PULL, *_PRESSURES}:
        return False
    if measures & {PULL, *_PRESSURES}:
        return True
    return any(key_measuring(other.readings, ARRIVAL_PRESSURE) for other in steps if other.key in answered) and not (
        any(plan.get("measures") == REST_DEPTH and plan.get("required") for plan in step.readings)
    )


def refuse_contradiction(ticket: Ticket, values: ForkValues, step: Step, sent: Sent) -> None:
    """Raises ReadingsRefused where depth and pressure contradict each other; a pressure is taken with a reason.

    A pull above what its gas can need is refused, too.
    """
    story = spring_story(
        run_states(ticket), ticket.unit, ticket.shop, values=values.values, on_a_bike=ticket.bike_id is not None
    )
    if not isinstance(story, SpringStory):
        return
    _refuse_pull(ticket.shop, step, sent, story)
    arrival_key = key_measuring(step.readings, ARRIVAL_PRESSURE)
    answer = story.arrival if arrival_key in sent.typed else story.now
    said = "" if answer is None else _contradiction(answer)
    if not said:
        return
    keys = [key for measure in (*_PRESSURES, REST_DEPTH) if (key := key_measuring(step.readings, measure))]
    key = next((key for key in keys if key in sent.typed), "")
    if not key:
        return
    has_reason_field = key_measuring(step.readings, REST_DEPTH) != key
    if not has_reason_field:
        raise ReadingsRefused({key: said})
    if not sent.reasons.get(key):
        raise ReadingsRefused({key: f"{said} Enter it anew, or say why it is so all the same."}, want_reasons={key})


def _refuse_pull(shop: Shop, step: Step, sent: Sent, story: SpringStory) -> None:
    key = key_measuring(step.readings, PULL)
    needed = [answer.greatest_pull_n for answer in (story.arrival, story.now) if answer is not None]
    most_n = max((pull_n for pull_n in needed if pull_n is not None), default=None)
    if key is None or key not in sent.typed or most_n is None:
        return
    plan = next(plan for plan in step.readings if plan["key"] == key)
    (reading,) = read_all([plan], typed_at(shop, step, {key: sent.typed[key]}, {}))
    pull_n = reading.magnitude_si or 0.0
    if pull_n <= most_n * (1 + _SCALE_OFF):
        return
    unit = shop.unit_for("force")
    pull, most = (in_unit(newtons, "force", shop.unit_for) for newtons in (pull_n, most_n))
    span = Yardstick(wanted=WantedSpan("", 0.0, most_n))
    slip = slip_of(pull_n, span, dimension="force", unit=unit, write=lambda si, of: show(si, of, unit))
    more = slip or "Was the scale read right? Else something beside the air holds it: look before anybody pulls harder."
    raise ReadingsRefused({key: f"{pull} is more than the air in this fork can need, {most} at the most. {more}"})


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
