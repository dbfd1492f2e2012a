"""The steps of a ticket's runs on paper, and what they amount to."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from diagnosis.cautions import CAUTION, NOTICE, graded
from diagnosis.declared import ASSUMED_UNLESS_READ, asked_on
from diagnosis.judging import kept_in_words
from diagnosis.layout import applies
from diagnosis.layout_facts import Facts, condition_of
from diagnosis.layout_plans import outcomes_of
from diagnosis.models import Checklist, Reading, Run, Step, Tick
from diagnosis.reading_kinds import options_of
from diagnosis.runs_rules import without_idle_repairs
from diagnosis.runs_state import RunState, StepState, states_of
from specs.facts import FactValue
from specs.units import show
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.work import not_covered
from workshop.work.yardsticks import bolt_readings

# Nothing is left to be done at such a step; what was left out or not told is, and what still pulls is the next danger.
_OVER = frozenset({Tick.Outcome.DONE, Tick.Outcome.RULED_OUT, Tick.Outcome.FOUND, Tick.Outcome.PROVED})


def run_states_printed(ticket: Ticket) -> list[RunState]:
    """Where each run of the ticket stands, oldest first."""
    runs = Run.objects.filter(pk__in=ticket.ticket_runs.values("run")).select_related("checklist").order_by("pk")
    return states_of(runs)


def planned_checklists(ticket: Ticket) -> tuple[list[Checklist], list[str]]:
    """Current checklists for the ticket's complaints, for a work order printed before anything was begun, and why
    those that do not cover the unit are not among them.
    """
    wanted = Checklist.objects.filter(is_current=True, complaint__in=ticket.complaints.all())
    fitting = wanted.prefetch_related("steps").order_by("complaint__position", "key")
    suited = [checklist for checklist in fitting if ticket.unit.kind in checklist.suits]
    left_out = not_covered(suited, ticket.unit)
    return [checklist for checklist in suited if checklist.pk not in left_out], list(left_out.values())


def started_block(state: RunState, shop: Shop, shared: Collection[str] = ()) -> dict[str, Any]:
    """A run as the work order prints it: each step with its readings, note and ticked outcome.

    Steps in `shared` stand under an earlier run of the ticket already; they are named and not printed again.
    """
    asked = {step.key for step in without_idle_repairs([one.step for one in state.steps], state.outcomes)}
    return {
        "title": state.run.checklist.title,
        "started": True,
        "shared": [step_state.step.title for step_state in state.steps if step_state.key in shared],
        "steps": [
            _row(
                number,
                step_state.step,
                state.run.facts,
                condition=step_state.condition,
                outcome=step_state.outcome,
                note=step_state.tick.note if step_state.tick else "",
                readings=[
                    reading_row(step_state.readings.get(plan["key"]), plan, shop)
                    for plan in step_state.step.readings
                    if plan["key"] in step_state.readings or _is_to_be_written(plan, step_state)
                ],
            )
            for number, step_state in enumerate(state.steps, start=1)
            if step_state.key not in shared and step_state.key in asked
        ],
    }


def planned_block(
    checklist: Checklist, facts: dict[str, FactValue | None], shop: Shop, shared: Collection[str] = ()
) -> dict[str, Any]:
    """A checklist that was not begun: the same rows with everything blank."""
    steps = without_idle_repairs([step for step in checklist.steps.all() if applies(step, facts) != "no"], {})
    return {
        "title": checklist.title,
        "started": False,
        "shared": [step.title for step in steps if step.key in shared],
        "steps": [
            _row(
                number,
                step,
                facts,
                condition=condition_of(step, facts),
                outcome="",
                note="",
                readings=[reading_row(None, plan, shop) for plan in step.readings if _has_a_line(plan, facts)],
            )
            for number, step in enumerate(steps, start=1)
            if step.key not in shared
        ],
    }


def _is_to_be_written(plan: Mapping[str, Any], state: StepState) -> bool:
    """Whether a reading that nobody took has a line: at a step that is over, only what had to be read, and torques."""
    if state.outcome in _OVER and not plan.get("required") and plan["key"] not in bolt_readings(state.step).values():
        return False
    return _has_a_line(plan, state.facts)


def _has_a_line(plan: Mapping[str, Any], facts: Mapping[str, FactValue | None]) -> bool:
    """Whether a reading that nobody took has a line to write on; what is assumed until it is read has none."""
    return asked_on(plan, facts) and plan.get("measures") not in ASSUMED_UNLESS_READ


def reading_row(reading: Reading | None, plan: Mapping[str, Any], shop: Shop) -> dict[str, Any]:
    """A reading in the shop's units, and how it stood when it was read; with empty words where there is none.

    `choices` are boxes to tick where it is one of a few words and none was taken.
    """
    bare = {"label": plan["label"], "value": "", "verdict": "", "outside": False, "reason": "", "choices": []}
    if reading is None:
        return bare | {"choices": list(options_of(plan))}
    if reading.magnitude_si is None:
        return bare | {"value": str(reading.typed)}

    def write(magnitude_si: float, dimension: str) -> str:
        return show(magnitude_si, dimension, shop.unit_for(dimension))

    value, verdict = kept_in_words(
        reading.magnitude_si,
        reading.held_against,
        outside=reading.outside,
        dimension=plan["quantity"],
        write=write,
    )
    return bare | {"value": value, "verdict": verdict, "outside": reading.outside, "reason": reading.reason}


def readings_read(state: StepState, shop: Shop) -> list[dict[str, Any]]:
    """What was read at a step, a row each; nothing for what was not."""
    return [
        reading_row(state.readings[plan["key"]], plan, shop)
        for plan in state.step.readings
        if plan["key"] in state.readings
    ]


def was_read(state: StepState) -> bool:
    """Whether everything that the step must read was read: without it a paper says nothing of what was measured."""
    return all(plan["key"] in state.readings for plan in state.step.readings if plan.get("required"))


def steps_printed(states: Iterable[RunState], outcomes: Sequence[str]) -> list[StepState]:
    """Steps that ended with one of these outcomes, each once by its key, in the order of the runs."""
    seen: dict[str, StepState] = {}
    for state in states:
        for step_state in state.steps:
            if step_state.outcome in outcomes:
                seen.setdefault(step_state.key, step_state)
    return list(seen.values())


def _row(
    number: int, step: Step, facts: Facts, *, condition: str, outcome: str, note: str, readings: list[dict[str, Any]]
) -> dict[str, Any]:
    return {
        "number": number,
        "title": step.title,
        "kind": step.kind,
        "maybe": condition,
        "counts_as_found": step.counts_as_found,
        "cautions": [
            {
                "word": "" if one.level in (CAUTION, NOTICE) else one.word,
                "level": one.level,
                "title": one.title,
                "text": one.text,
            }
            for one in graded(step.cautions, facts)
        ],
        "shows": list(step.shows),
        "note": note,
        "readings": readings,
        "is_over": outcome in _OVER,
        "choices": [
            {"label": Tick.Outcome(choice).label, "taken": choice == outcome}
            for choice in outcomes_of(step.kind, step.answers)
        ],
    }
