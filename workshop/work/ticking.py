"""Ticking a step of a ticket: the answer, its readings, and the parts it asks for, in one transaction.

The tick is the write that a mechanic makes a hundred times a day over a poor connection. It looks at nothing it does
not need: the ticket with its run in one query, the run's ticks in one, and the rest only where the step asks for it.
What comes next is planned and shown by the page that is asked for afterwards.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from django.db import transaction
from django.http import Http404

from diagnosis.judging import Yardstick
from diagnosis.layout_plans import CHECK, PROOF, WORK
from diagnosis.models import Checklist, Run, Step, StepTimer, Tick
from diagnosis.runs import Ticked, TickRefused, TypedReadings, take_back_within, tick_within
from diagnosis.runs_readings import ReadingsRefused
from diagnosis.runs_rules import ALL_WELL, answer_of
from diagnosis.runs_state import state_of
from diagnosis.runs_timers import stop_timers_at
from diagnosis.steps import steps_of
from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket, TicketRun
from workshop.torque.bolts import BoltDoubtful, BoltRefused, record_bolt
from workshop.torque.models import TorqueTool
from workshop.torque.tools import tool_of
from workshop.work.adding_parts import add_from_answer
from workshop.work.judging import evidence_for
from workshop.work.part_lines import drop_lines_of_step
from workshop.work.sent import WAIT, Sent
from workshop.work.spring_slips import may_contradict, refuse_contradiction, refuse_rests, tells_of_spring
from workshop.work.work import ForkValues, NotOnTheBench, fork_values
from workshop.work.yardsticks import bolt_readings, judges_anything, typed_at, yardsticks

_PROVED = "proved"
# A tablet's clock and the way to the server; nobody waits these out.
_TIMER_SLACK_S = 5.0
_TIGHTENED = frozenset({"done", "proved"})
# What becomes of an answer whose wait was not kept, by the kind of step.
_EARLY: Mapping[str, str] = {
    PROOF: "it proves nothing, and is asked for again.",
    WORK: "it does not count as done, and is asked for again.",
    CHECK: "it counts as “can’t tell”.",
}
# A few columns, their joins worked out once: a row of each table would cost more than the tick itself.
_PLACES = TicketRun.objects.values_list(
    "ticket", "ticket__state", "run__facts", "run__job", "run__started_at", "run__said", "run__checklist",
    "run__checklist__made_at", "ticket__unit__kind", "ticket__unit__travel_m",
)  # fmt: skip


class WaitNotKept(TickRefused):
    """The step's wait was not kept, and nobody says why it was left early."""


class ProofDoubtful(TickRefused):
    """The readings speak against the proof, and the note does not say why it holds all the same."""


@transaction.atomic
def answer_step(*, shop: Shop, number: int, run_pk: int, step_key: str, by: User, sent: Sent) -> Ticked:
    """Store the answer and add the parts it asks for. Sent again, it gives the stored answer and does nothing.

    Raises Http404 for a step that is not there, NotOnTheBench, ProofDoubtful, WaitNotKept, ReadingsRefused for a torque
    that is a slip, and as diagnosis.runs.tick.
    """
    place = _place(shop, number, run_pk, step_key)
    place.check_on_the_bench(sent.client_id)
    tools = _tools(place, sent)
    not_waited, why = _not_waited(place, sent), sent.reasons.get(WAIT, "")
    kept = replace(sent, note=f"{sent.note}\n{not_waited} {why}".strip()) if not_waited and why else sent
    answer = replace(kept.as_answer(place.run.started_at, _typed(place, sent, tools)), left_early=bool(not_waited))
    ticked = tick_within(run=place.run, step_key=step_key, by=by, answer=answer)
    if ticked.repeated:
        return ticked
    # What is refused from here on takes the tick with it.
    if not_waited and not why:
        raise WaitNotKept(f"{not_waited} Wait, or say why it was left early: then {_EARLY[place.step.kind]}")
    if sent.outcome == _PROVED and not sent.note:
        _refuse_doubtful(place, sent)
    if tells_of_spring(place.step, sent.typed):
        _refuse_slips(place, sent, ticked)
    _record_bolts(place, by, sent, tools)
    if place.step.timer:
        stop_timers_at(run=place.run, step_key=step_key, stopped_at=ticked.tick.ticked_at)
    # An answer that replaces another takes the other's parts away.
    wanted = answer_of(place.step, ticked.tick.outcome).get("parts") or ()
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
    """Undo an answer; the parts it asked for and nobody used are needed no more.

    Gives the version up to which its sender knows the run.

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
    fork_travel_m: float | None
    """None for a shock, and where it is not known."""

    @cached_property
    def values(self) -> ForkValues:
        """The values of the ticket's unit, for a step with a reading that is held against one."""
        return fork_values(self.ticket)

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
        ticket_pk, state, facts, job, started_at, said, checklist_pk, made_at, kind, travel_m = _PLACES.get(
            ticket__shop=shop, ticket__number=number, run=run_pk
        )
    except TicketRun.DoesNotExist as error:
        raise Http404("This ticket has no such run.") from error
    checklist = Checklist(pk=checklist_pk, made_at=made_at)
    step = next((step for step in steps_of(checklist) if step.key == step_key), None)
    if step is None:
        raise Http404("This run has no such step.")
    run = Run(pk=run_pk, facts=facts, job=job, started_at=started_at, said=said, checklist=checklist)
    return _Place(shop, ticket_pk, state, run, step, travel_m if kind == "fork" else None)


def _not_waited(place: _Place, sent: Sent) -> str:
    """What is missing of the wait that a step asks for, in a sentence; empty where it was kept or none is asked for.

    Only an answer that says all is well has to have waited: what is found shows before. The timer counts that was
    started since the step was last answered, as long as it ran.
    """
    timer = place.step.timer
    if sent.outcome not in ALL_WELL or not timer:
        return ""
    before = Tick.objects.filter(run=place.run.pk, step=place.step.pk).exclude(client_id=sent.client_id).last()
    timers = StepTimer.objects.filter(run__job=place.run.job, step__key=place.step.key)
    if before is not None:
        timers = timers.filter(started_at__gte=before.ticked_at)
    now = sent.queued.happened_at(place.run.started_at)
    ran = [((row.stopped_at or now) - row.started_at).total_seconds() for row in timers]
    wanted = f"The wait of {timer['minutes']:g} minutes was not kept"
    if not ran:
        return f"{wanted}: its timer was not started{' since the last answer' if before is not None else ''}."
    if max(ran) >= timer["minutes"] * 60 - _TIMER_SLACK_S:
        return ""
    return f"{wanted}: its timer ran {max(ran) / 60:.0f}."


def _typed(place: _Place, sent: Sent, tools: Mapping[str, TorqueTool | None]) -> TypedReadings:
    """What was typed, with this unit's yardsticks; its values are looked for only where they can matter."""
    held_against: Mapping[str, Yardstick] = {}
    if judges_anything(place.step) and (sent.typed or sent.outcome in ALL_WELL):
        held_against = yardsticks(place.ticket, place.step, place.values, tools)
    return typed_at(
        place.shop,
        place.step,
        sent.typed,
        held_against,
        above_maximum_is_meant=sent.above_maximum_is_meant,
        reasons=sent.reasons,
    )


def _tools(place: _Place, sent: Sent) -> dict[str, TorqueTool | None]:
    """The torque tools that were named, by bolt. Raises ReadingsRefused for one that the shop does not have."""
    found: dict[str, TorqueTool | None] = {}
    if sent.outcome not in _TIGHTENED:
        return found
    for bolt, key in bolt_readings(place.step).items():
        if key not in sent.typed:
            continue
        found[bolt] = tool_of(place.shop, sent.tools.get(bolt))
        if found[bolt] is None and bolt in sent.tools:
            raise ReadingsRefused({key: "This torque tool is none of the shop’s. Choose it again."})
    return found


def _record_bolts(place: _Place, by: User, sent: Sent, tools: Mapping[str, TorqueTool | None]) -> None:
    """The torque typed for a critical bolt is its record; a slip is refused beside the reading, with nothing saved."""
    keys = bolt_readings(place.step)
    for bolt, tool in tools.items():
        key = keys[bolt]
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
                reason=" ".join(sent.reasons.get(key, "").split()),
            )
        except BoltDoubtful as doubtful:
            raise ReadingsRefused({key: str(doubtful)}, want_reasons={key}) from doubtful
        except BoltRefused as refused:
            raise ReadingsRefused({key: str(refused)}) from refused


def _refuse_slips(place: _Place, sent: Sent, ticked: Ticked) -> None:
    """What a rest depth cannot be on this fork, or beside its pressure, is refused beside its field."""
    refuse_rests(place.shop, place.step, sent.typed, place.fork_travel_m)
    known = place.fork_travel_m is not None
    if known and may_contradict(place.step, sent, steps_of(place.run.checklist), ticked.outcomes):
        refuse_contradiction(place.ticket, place.values, place.step, sent)


def _refuse_doubtful(place: _Place, sent: Sent) -> None:
    state = state_of(Run.objects.get(pk=place.run.pk))
    evidence = evidence_for(place.ticket, place.values, state, state.by_key[place.step.key], sent.typed)
    off = [entry for entry in evidence if entry.standing == "off"]
    if off:
        raise ProofDoubtful(
            f"{off[0].word} {off[0].text} Answer “Not proved”, or write in the note why it holds all the same."
        )
