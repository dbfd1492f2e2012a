"""Ticking a step of a ticket: the answer, its readings, and the parts it asks for, in one transaction.

The tick is the write that a mechanic makes a hundred times a day over a poor connection. It looks at nothing it does
not need: the ticket with its run in one query, the run's ticks in one, and the rest only where the step asks for it.
What comes next is planned and shown by the page that is asked for afterwards.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from functools import cached_property

from django.db import transaction
from django.http import Http404

from diagnosis.declared import key_measuring
from diagnosis.layout_plans import BOLTS
from diagnosis.models import Checklist, Run, Step, Tick
from diagnosis.runs import Ticked, TickRefused, TypedReadings, take_back_within, tick_within
from diagnosis.runs_readings import ReadingsRefused
from diagnosis.runs_rules import answer_of
from diagnosis.runs_state import state_of
from diagnosis.steps import steps_of
from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket, TicketRun
from workshop.torque.bolts import BoltRefused, record_bolt
from workshop.torque.tools import tool_of
from workshop.work.adding_parts import add_from_answer
from workshop.work.judging import evidence_for, units_of
from workshop.work.part_lines import drop_lines_of_step
from workshop.work.sent import Sent
from workshop.work.work import NotOnTheBench, fork_values

_PROVED = "proved"
_TIGHTENED = frozenset({"done", "proved"})
# Six columns, their joins worked out once: a row of each table would cost more than the tick itself.
_PLACES = TicketRun.objects.values_list(
    "ticket", "ticket__state", "run__facts", "run__job", "run__started_at", "run__checklist", "run__checklist__made_at"
)


class ProofDoubtful(TickRefused):
    """The readings speak against the proof, and the note does not say why it holds all the same."""


@transaction.atomic
def answer_step(*, shop: Shop, number: int, run_pk: int, step_key: str, by: User, sent: Sent) -> Ticked:
    """Store the answer and add the parts it asks for. Sent again, it gives the stored answer and does nothing.

    Raises Http404 for a step that is not there, NotOnTheBench, ProofDoubtful, ReadingsRefused for a torque that is a
    slip, and as diagnosis.runs.tick.
    """
    place = _place(shop, number, run_pk, step_key)
    place.check_on_the_bench(sent.client_id)
    readings = TypedReadings(
        sent.typed, units_of(shop, place.step), _maximum_pa(place, sent), sent.above_maximum_is_meant
    )
    ticked = tick_within(run=place.run, step_key=step_key, by=by, answer=sent.as_answer(place.run.started_at, readings))
    if ticked.repeated:
        return ticked
    # What is refused from here on takes the tick with it.
    if sent.outcome == _PROVED and not sent.note:
        _refuse_doubtful(place, sent)
    _record_bolts(place, by, sent)
    # An answer that replaces another takes the other's parts away.
    wanted = answer_of(place.step, sent.outcome).get("parts") or ()
    if wanted:
        add_from_answer(ticket=place.ticket, step=place.step, parts=wanted, by=by)
    elif ticked.replaces:
        drop_lines_of_step(ticket=place.ticket, step=place.step, by=by)
    return ticked


@transaction.atomic
def take_answer_back(
    *,
    shop: Shop,
    number: int,
    run_pk: int,
    step_key: str,
    by: User,
    sent: Sent,
) -> int:
    """Undo an answer; the parts it asked for and nobody used are needed no more. Gives the version of the run after it.

    Raises as answer_step and as diagnosis.runs.take_back.
    """
    place = _place(shop, number, run_pk, step_key)
    place.check_on_the_bench(sent.client_id)
    taken_back = take_back_within(run=place.run, step_key=step_key, by=by, answer=sent.as_answer(place.run.started_at))
    if not taken_back.repeated:
        drop_lines_of_step(ticket=place.ticket, step=place.step, by=by)
    return taken_back.version


@dataclass(frozen=True)
class _Place:
    """Where a tick goes. `run` holds what a tick asks of it and no more."""

    shop: Shop
    ticket_pk: int
    ticket_state: str
    run: Run
    step: Step

    @cached_property
    def ticket(self) -> Ticket:
        """The whole ticket, for a step that asks for bolts, parts or the fork's values."""
        ticket = Ticket.objects.with_names().get(pk=self.ticket_pk)
        ticket.shop = self.shop
        return ticket

    def check_on_the_bench(self, client_id: uuid.UUID) -> None:
        """An answer that is stored already may be sent again wherever its ticket has gone. Raises NotOnTheBench."""
        on_the_bench = self.ticket_state == Ticket.State.ON_THE_BENCH
        if not on_the_bench and not Tick.objects.filter(run=self.run, client_id=client_id).exists():
            raise NotOnTheBench(self.ticket)


def _place(shop: Shop, number: int, run_pk: int, step_key: str) -> _Place:
    """Ticket, run and step in one query. Raises Http404."""
    try:
        ticket_pk, state, facts, job, started_at, checklist_pk, made_at = _PLACES.get(
            ticket__shop=shop, ticket__number=number, run=run_pk
        )
    except TicketRun.DoesNotExist as error:
        raise Http404("This ticket has no such run.") from error
    checklist = Checklist(pk=checklist_pk, made_at=made_at)
    step = next((step for step in steps_of(checklist) if step.key == step_key), None)
    if step is None:
        raise Http404("This run has no such step.")
    run = Run(pk=run_pk, facts=facts, job=job, started_at=started_at, checklist=checklist)
    return _Place(shop, ticket_pk, state, run, step)


def _maximum_pa(place: _Place, sent: Sent) -> float | None:
    """This fork's maximum pressure, looked for only where a pressure was typed."""
    if any(plan["quantity"] == "pressure" and plan["key"] in sent.typed for plan in place.step.readings):
        return fork_values(place.ticket).max_pressure_pa
    return None


def _record_bolts(place: _Place, by: User, sent: Sent) -> None:
    """The torque typed for a critical bolt is its record; a slip is refused beside the reading, with nothing saved."""
    if sent.outcome not in _TIGHTENED:
        return
    for bolt in place.step.bolts:
        key = key_measuring(place.step.readings, BOLTS[bolt])
        if key is None or key not in sent.typed:
            continue
        tool = tool_of(place.shop, sent.tools.get(bolt))
        if tool is None and bolt in sent.tools:
            raise ReadingsRefused({key: "This torque tool is none of the shop’s. Choose it again."})
        try:
            record_bolt(
                ticket=place.ticket,
                bolt=bolt,
                typed=sent.typed[key],
                by=by,
                client_id=uuid.uuid5(sent.client_id, bolt),
                tool=tool,
                run=place.run,
                step=place.step,
            )
        except BoltRefused as refused:
            raise ReadingsRefused({key: str(refused)}) from refused


def _refuse_doubtful(place: _Place, sent: Sent) -> None:
    state = state_of(Run.objects.get(pk=place.run.pk))
    evidence = evidence_for(place.shop, fork_values(place.ticket), state, state.by_key[place.step.key], sent.typed)
    off = [entry for entry in evidence if entry.standing == "off"]
    if off:
        raise ProofDoubtful(
            f"{off[0].word} {off[0].text} Answer “Not proved”, or write in the note why it holds all the same."
        )
