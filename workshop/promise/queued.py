"""Minutes of the work that is queued, from the minutes that steps take in this shop."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from diagnosis.layout import applies
from diagnosis.models import Checklist, Step, Tick
from diagnosis.steps import steps_of
from workshop.bench.learned import learned_for
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket, TicketRun

StepWords = tuple[str, str]
IN_WORK = (Ticket.State.ON_THE_BENCH, Ticket.State.BOOKED_IN, Ticket.State.WAITING)


def minutes_of_new_work(shop: Shop, complaints: Iterable[int], kind: str, usual_minutes: float) -> float:
    """What the checklists of these complaints take on a unit of a kind; the usual minutes where there is none."""
    wanted = set(complaints)
    facts = {"kind": kind}
    left: dict[StepWords, float] = {}
    for checklist in Checklist.objects.filter(is_current=True, complaint__in=wanted):
        if kind in checklist.suits:
            left |= _left(shop, checklist, facts, {})
    return sum(left.values()) or usual_minutes


def queued_tickets(shop: Shop) -> list[Ticket]:
    """Tickets whose work is not done, the earliest promise first, with what the minutes need; four queries."""
    tickets = Ticket.objects.of_shop(shop).filter(state__in=IN_WORK).for_rows().order_by("promised_on", "number")
    return list(tickets.prefetch_related("complaints"))


def queued_minutes(shop: Shop, tickets: Iterable[Ticket], usual_minutes: float) -> dict[int, float]:
    """Minutes that are left of each ticket: open steps of its runs, and checklists that are not begun."""
    listed = list(tickets)
    runs: dict[int, list[Any]] = defaultdict(list)
    for row in TicketRun.objects.filter(ticket__in=listed).select_related("run__checklist"):
        runs[row.ticket_id].append(row.run)
    outcomes: dict[int, dict[int, str]] = defaultdict(dict)
    every_run = [run.pk for of_ticket in runs.values() for run in of_ticket]
    for run, step, outcome in (
        Tick.objects.filter(run__in=every_run).order_by("pk").values_list("run", "step", "outcome")
    ):
        outcomes[run][step] = outcome
    current = {checklist.complaint_id: checklist for checklist in Checklist.objects.filter(is_current=True)}
    minutes = {}
    for ticket in listed:
        begun = {run.checklist.complaint_id for run in runs[ticket.pk]}
        left: dict[StepWords, float] = {}
        for run in runs[ticket.pk]:
            left |= _left(shop, run.checklist, run.facts, outcomes[run.pk])
        facts = {"kind": ticket.unit.kind}
        for complaint in ticket.complaints.all():
            checklist = current.get(complaint.pk)
            if checklist is not None and complaint.pk not in begun and ticket.unit.kind in checklist.suits:
                left |= _left(shop, checklist, facts, {})
                begun.add(complaint.pk)
        minutes[ticket.pk] = sum(left.values()) if begun else usual_minutes
    return minutes


def _left(
    shop: Shop, checklist: Checklist, facts: Mapping[str, Any], outcomes: Mapping[int, str]
) -> dict[StepWords, float]:
    """Minutes of the steps that are open; once something was found, further checks are not reckoned with.

    By key and title, so that a step which several complaints of a ticket share is reckoned once.
    """
    learned = learned_for(shop, checklist.complaint_id)
    found = Tick.Outcome.FOUND in outcomes.values()
    return {
        (step.key, step.title): learned.step_minutes(step.key, step.minutes).minutes
        for step in steps_of(checklist)
        if step.pk not in outcomes and applies(step, facts) != "no" and not (found and step.kind == Step.Kind.CHECK)
    }
