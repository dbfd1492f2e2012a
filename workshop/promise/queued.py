"""Minutes of the work that is queued, from the minutes that steps take in this shop."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

from django.utils import timezone

from diagnosis.layout_plans import BY_THE_WAY, DANGER
from diagnosis.models import Checklist, Tick
from diagnosis.runs_rules import FOUND, NOTED, TAKEN_BACK
from diagnosis.steps import FINAL_AFTER, steps_of
from diagnosis.unit_state import UnitState, state_after
from diagnosis.work_left import steps_left
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket, TicketRun
from workshop.work.learned import learned_for

StepWords = tuple[str, str]
PlannedStep = tuple[str, str, float]
StepMinutes = Callable[[int, str, float], float]
MOST_REMEMBERED = 5_000  # a few kilobytes each; beyond, all of it is forgotten
_REMEMBERED: dict[Any, tuple[PlannedStep, ...]] = {}
IN_WORK = (Ticket.State.ON_THE_BENCH, Ticket.State.BOOKED_IN, Ticket.State.WAITING)


class Given(NamedTuple):
    """A tick as far as the queue reads it; `source` is the one in another run that it counts from."""

    pk: int
    step: int
    outcome: str
    source: int | None


class Job(NamedTuple):
    """The runs of a ticket, and the ticks of all of them, oldest first: what the unit's state follows from."""

    runs: Sequence[Any]
    ticks: Sequence[Given]


class QueuedTicket(NamedTuple):
    """A ticket whose work is not done, as the queue reckons with it; `kind` is its unit's."""

    pk: int
    promised_on: dt.date
    kind: str
    state: str
    waiting_for: str
    model_pk: int | None = None
    number: int = 0


def minutes_of_new_work(shop: Shop, complaints: Iterable[int], kind: str, usual_minutes: float) -> float:
    """What the checklists of these complaints take on a unit of a kind; the usual minutes where there is none."""
    wanted = set(complaints)
    facts = {"kind": kind}
    step_minutes = _step_minutes(shop)
    left: dict[StepWords, float] = {}
    for checklist in Checklist.objects.filter(is_current=True, complaint__in=wanted):
        if kind in checklist.suits:
            left |= _left(checklist, facts, (), step_minutes)
    return sum(left.values()) or usual_minutes


def queued_tickets(shop: Shop) -> list[QueuedTicket]:
    """Tickets whose work is not done, the earliest promise first; one query."""
    tickets = Ticket.objects.of_shop(shop).filter(state__in=IN_WORK).order_by("promised_on", "number")
    rows = tickets.values_list("pk", "promised_on", "unit__kind", "state", "waiting_for", "unit__model", "number")
    return [QueuedTicket(*row) for row in rows]


def queued_minutes(shop: Shop, tickets: Iterable[QueuedTicket], usual_minutes: float) -> dict[int, float]:
    """Minutes that are left of each ticket: open steps of its runs, and checklists that are not begun; four queries."""
    listed = list(tickets)
    keys = [ticket.pk for ticket in listed]
    complaints: dict[int, list[int]] = defaultdict(list)
    of_tickets = Ticket.complaints.through.objects.filter(ticket__in=keys).order_by("complaint__position", "pk")
    for ticket, complaint in of_tickets.values_list("ticket", "complaint"):
        complaints[ticket].append(complaint)
    runs: dict[int, list[Any]] = defaultdict(list)
    read = ("ticket", "run__facts", *(f"run__checklist__{field}" for field in ("complaint", "made_at")))
    for row in TicketRun.objects.filter(ticket__in=keys).select_related("run__checklist").only(*read):
        runs[row.ticket_id].append(row.run)
    given = _given([run.pk for of_ticket in runs.values() for run in of_ticket])
    in_use = Checklist.objects.filter(is_current=True).order_by().only("complaint", "suits", "made_at")
    current = {checklist.complaint_id: checklist for checklist in in_use}
    step_minutes = _step_minutes(shop)
    to_come = cache(lambda complaint, kind: _left(current[complaint], {"kind": kind}, (), step_minutes))
    minutes = {}
    for queued in listed:
        begun = {run.checklist.complaint_id for run in runs[queued.pk]}
        left: dict[StepWords, float] = {}
        own = runs[queued.pk]
        ticks = sorted(tick for run in own for tick in given[run.pk])
        for run in own:
            left |= _left(run.checklist, run.facts, given[run.pk], step_minutes, Job(own, ticks))
        for complaint in complaints[queued.pk]:
            checklist = current.get(complaint)
            if checklist is not None and complaint not in begun and queued.kind in checklist.suits:
                left |= to_come(complaint, queued.kind)
                begun.add(complaint)
        minutes[queued.pk] = sum(left.values()) if begun else usual_minutes
    return minutes


def _step_minutes(shop: Shop) -> StepMinutes:
    """Minutes of a step by its complaint, key and planned minutes, each looked up once."""
    learned = cache(lambda complaint: learned_for(shop, complaint))

    @cache
    def minutes(complaint: int, key: str, planned: float) -> float:
        return learned(complaint).step_minutes(key, planned).minutes

    return minutes


def _given(runs: Iterable[int]) -> dict[int, list[Given]]:
    """The ticks of each run, oldest first; one query."""
    found: dict[int, list[Given]] = defaultdict(list)
    ticks = Tick.objects.filter(run__in=list(runs)).order_by("pk")
    for row in ticks.values_list("pk", "run", "step", "outcome", "finding", "cause", "counted_from"):
        pk, run, step, outcome, finding, cause, source = row
        aside = finding in (BY_THE_WAY, DANGER) and cause is None  # noted: the search goes on
        found[run].append(Given(pk, step, NOTED if aside else outcome, source))
    return found


def _unit(facts: Mapping[str, Any], job: Job) -> UnitState:
    """The unit as the ticks of a job leave it; what counts from another of its runs is not done twice."""
    steps = {step.pk: step for run in job.runs for step in steps_of(run.checklist)}
    own = [tick for tick in _once(job) if tick.step in steps]
    return state_after(facts, [(steps[tick.step], FOUND if tick.outcome == NOTED else tick.outcome) for tick in own])


def _once(job: Job) -> list[Given]:
    here = {tick.pk for tick in job.ticks}
    return [tick for tick in job.ticks if tick.source not in here]


def _left(
    checklist: Checklist,
    facts: Mapping[str, Any],
    ticks: Sequence[Given],
    step_minutes: StepMinutes,
    job: Job | None = None,
) -> dict[StepWords, float]:
    """Minutes of the steps that are left, as the bench will suggest them: see diagnosis.work_left.

    By key and title, so that a step which several complaints of a ticket share is reckoned once.
    """
    left: dict[StepWords, float] = defaultdict(float)
    for key, title, planned in _steps_left(checklist, facts, ticks, job):
        left[key, title] += step_minutes(checklist.complaint_id, key, planned)
    return left


def _steps_left(
    checklist: Checklist, facts: Mapping[str, Any], ticks: Sequence[Given], job: Job | None
) -> tuple[PlannedStep, ...]:
    """Key, title and planned minutes of each; remembered by all that they follow from.

    Every page with a promise on it asks this of every open ticket of the shop, and few of them were ticked since.
    """
    lists = [checklist, *(run.checklist for run in job.runs)] if job else [checklist]
    if timezone.now() - max(one.made_at for one in lists) < FINAL_AFTER:
        return _worked_out(checklist, facts, ticks, job)
    known = (
        tuple((one.pk, one.made_at) for one in lists),
        json.dumps(facts, sort_keys=True),
        tuple((tick.step, tick.outcome) for tick in ticks),
        tuple((tick.step, tick.outcome) for tick in _once(job)) if job else None,
    )
    found = _REMEMBERED.get(known)
    if found is None:
        if len(_REMEMBERED) >= MOST_REMEMBERED:
            _REMEMBERED.clear()
        found = _REMEMBERED[known] = _worked_out(checklist, facts, ticks, job)
    return found


def _worked_out(
    checklist: Checklist, facts: Mapping[str, Any], ticks: Iterable[Given], job: Job | None
) -> tuple[PlannedStep, ...]:
    steps = steps_of(checklist)
    keys = {step.pk: step.key for step in steps}
    outcomes: dict[str, str] = {}
    for tick in ticks:
        key = keys[tick.step]
        outcomes.pop(key, None)
        if tick.outcome != TAKEN_BACK:
            outcomes[key] = tick.outcome
    unit = _unit(facts, job) if job else None
    return tuple((step.key, step.title, step.minutes) for step in steps_left(steps, facts, outcomes, unit))
