"""Ticking a step of a ticket: the answer, its readings, and the parts it asks for, in one transaction."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.db import transaction

from diagnosis.layout_plans import BOLTS
from diagnosis.models import Run, Tick
from diagnosis.runs import TickRefused, TypedReadings, take_back, tick
from diagnosis.runs_readings import ReadingsRefused
from diagnosis.runs_rules import answer_of
from diagnosis.runs_state import RunState, StepState
from workshop.bench.judging import evidence_for, units_of
from workshop.bench.work import ForkValues, NotOnTheBench
from workshop.staff.models import User
from workshop.stores.torque_bolts import BoltRefused, record_bolt
from workshop.stores.torque_tools import tool_of
from workshop.tickets.models import PartLine, Ticket
from workshop.tickets.part_lines import add_from_answer, drop_lines_of_step

_PROVED = "proved"
_TIGHTENED = frozenset({"done", "proved"})


class ProofDoubtful(TickRefused):
    """The readings speak against the proof, and the note does not say why it holds all the same."""


@dataclass(frozen=True)
class Sent:
    """What a tablet sends when a step is answered."""

    outcome: str
    seen_version: int
    client_id: uuid.UUID
    cause_key: str = ""
    note: str = ""
    typed: Mapping[str, str] | None = None
    above_maximum_is_meant: bool = False
    tools: Mapping[str, int] = field(default_factory=dict)  # critical bolt to the torque tool it was tightened with


@transaction.atomic
def answer_step(
    *, ticket: Ticket, run_state: RunState, state: StepState, values: ForkValues, by: User, sent: Sent
) -> tuple[Tick, list[PartLine]]:
    """Store the answer and add the parts it asks for. Sent again, it gives the stored answer.

    Raises NotOnTheBench, ProofDoubtful, ReadingsRefused for a torque that is a slip, and as diagnosis.runs.tick.
    """
    run, typed = run_state.run, sent.typed or {}
    if ticket.state != Ticket.State.ON_THE_BENCH:
        raise NotOnTheBench(ticket)
    if sent.outcome == _PROVED and not sent.note.strip() and not _is_stored(run, sent):
        _refuse_doubtful(ticket, run_state, state, values, typed)
    stored = tick(
        run=run,
        step_key=state.key,
        outcome=sent.outcome,
        by=by,
        seen_version=sent.seen_version,
        client_id=sent.client_id,
        note=sent.note,
        cause_key=sent.cause_key,
        readings=TypedReadings(
            typed, units_of(ticket.shop, state), values.max_pressure_pa, sent.above_maximum_is_meant
        ),
    )
    _record_bolts(ticket, run, state, by, sent)
    if _counts(run, stored):
        # An answer that replaces another takes the other's parts away.
        wanted = answer_of(state.step, stored.outcome).get("parts") or ()
        if not wanted:
            drop_lines_of_step(ticket=ticket, step=state.step, by=by)
        return stored, add_from_answer(ticket=ticket, step=state.step, parts=wanted, by=by)
    return stored, []


@transaction.atomic
def take_answer_back(
    *, ticket: Ticket, run: Run, state: StepState, by: User, seen_version: int, client_id: uuid.UUID
) -> Tick:
    """Undo an answer; the parts it asked for and nobody used are needed no more. Raises as diagnosis.runs.take_back."""
    if ticket.state != Ticket.State.ON_THE_BENCH:
        raise NotOnTheBench(ticket)
    stored = take_back(run=run, step_key=state.key, by=by, seen_version=seen_version, client_id=client_id)
    if _counts(run, stored):
        drop_lines_of_step(ticket=ticket, step=state.step, by=by)
    return stored


def _record_bolts(ticket: Ticket, run: Run, state: StepState, by: User, sent: Sent) -> None:
    """The torque typed for a critical bolt is its record; a slip is refused beside the reading, with nothing saved."""
    for bolt in state.step.bolts:
        key = BOLTS[bolt]
        typed = (sent.typed or {}).get(key)
        if not typed or sent.outcome not in _TIGHTENED:
            continue
        try:
            record_bolt(
                ticket=ticket,
                bolt=bolt,
                typed=typed,
                by=by,
                client_id=uuid.uuid5(sent.client_id, bolt),
                tool=tool_of(ticket.shop, sent.tools.get(bolt)),
                run=run,
                step=state.step,
            )
        except BoltRefused as refused:
            raise ReadingsRefused({key: str(refused)}) from refused


def _refuse_doubtful(
    ticket: Ticket, run_state: RunState, state: StepState, values: ForkValues, typed: Mapping[str, str]
) -> None:
    off = [e for e in evidence_for(ticket.shop, values, run_state, state, typed) if e.standing == "off"]
    if off:
        raise ProofDoubtful(
            f"{off[0].word} {off[0].text} Answer “Not proved”, or write in the note why it holds all the same."
        )


def _is_stored(run: Run, sent: Sent) -> bool:
    return Tick.objects.filter(run=run, client_id=sent.client_id).exists()


def _counts(run: Run, stored: Tick) -> bool:
    """Whether it is still the latest word on its step; a repeat that comes late must not bring parts back."""
    return not Tick.objects.filter(run=run, step=stored.step_id, pk__gt=stored.pk).exists()
