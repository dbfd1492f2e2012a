"""Minutes of the work that is queued, from the minutes that steps take in this shop."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from typing import Any, NamedTuple

from diagnosis.layout import applies
from diagnosis.layout_plans import BY_THE_WAY, DANGER
from diagnosis.models import Checklist, Step, Tick
from diagnosis.runs_rules import NOTED
from diagnosis.steps import steps_of
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket, TicketRun
from workshop.work.learned import learned_for

StepWords = tuple[str, str]
StepMinutes = Callable[[int, str, float], float]
IN_WORK = (Ticket.State.ON_THE_BENCH, Ticket.State.BOOKED_IN, Ticket.State.WAITING)


class QueuedTicket(NamedTuple):
    """A ticket whose work is not done, as the queue reckons with it; `kind` is its unit's."""

    pk: int
    promised_on: dt.date
    kind: str
    state: str
    waiting_for: str
    model_pk: int | None = None


def minutes_of_new_work(shop: Shop, complaints: Iterable[int], kind: str, usual_minutes: float) -> float:
    """What the checklists of these complaints take on a unit of a kind; the usual minutes where there is none."""
    wanted = set(complaints)
    facts = {"kind": kind}
    step_minutes = _step_minutes(shop)
    left: dict[StepWords, float] = {}
    for checklist in Checklist.objects.filter(is_current=True, complaint__in=wanted):
        if kind in checklist.suits:
            left |= _left(checklist, facts, {}, step_minutes)
    return sum(left.values()) or usual_minutes


def queued_tickets(shop: Shop) -> list[QueuedTicket]:
    """Tickets whose work is not done, the earliest promise first; one query."""
    tickets = Ticket.objects.of_shop(shop).filter(state__in=IN_WORK).order_by("promised_on", "number")
    rows = tickets.values_list("pk", "promised_on", "unit__kind", "state", "waiting_for", "unit__model")
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
    outcomes: dict[int, dict[int, str]] = defaultdict(dict)
    every_run = [run.pk for of_ticket in runs.values() for run in of_ticket]
    ticks = Tick.objects.filter(run__in=every_run).order_by("pk")
    for run, step, outcome, finding, cause in ticks.values_list("run", "step", "outcome", "finding", "cause"):
        aside = finding in (BY_THE_WAY, DANGER) and cause is None  # noted: the search goes on
        outcomes[run][step] = NOTED if aside else outcome
    in_use = Checklist.objects.filter(is_current=True).order_by().only("complaint", "suits", "made_at")
    current = {checklist.complaint_id: checklist for checklist in in_use}
    step_minutes = _step_minutes(shop)
    to_come = cache(lambda complaint, kind: _left(current[complaint], {"kind": kind}, {}, step_minutes))
    minutes = {}
    for queued in listed:
        begun = {run.checklist.complaint_id for run in runs[queued.pk]}
        left: dict[StepWords, float] = {}
        for run in runs[queued.pk]:
            left |= _left(run.checklist, run.facts, outcomes[run.pk], step_minutes)
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


def _left(
    checklist: Checklist, facts: Mapping[str, Any], outcomes: Mapping[int, str], step_minutes: StepMinutes
) -> dict[StepWords, float]:
    """Minutes of the steps that are open; once something was found, further checks are not reckoned with.

    By key and title, so that a step which several complaints of a ticket share is reckoned once.
    """
    found = Tick.Outcome.FOUND in outcomes.values()
    return {
        (step.key, step.title): step_minutes(checklist.complaint_id, step.key, step.minutes)
        for step in steps_of(checklist)
        if step.pk not in outcomes and applies(step, facts) != "no" and not (found and step.kind == Step.Kind.CHECK)
    }
