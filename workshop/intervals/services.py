"""Services done: written down at hand-back from what was ticked, and corrected at the counter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from diagnosis.models import Run, Tick
from diagnosis.steps import steps_by_checklist
from workshop.intervals.levels import levels_done
from workshop.intervals.models import Level, ServiceDone
from workshop.staff.models import User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.plausible_days import DayKind, refuse_day


@dataclass(frozen=True)
class TickedService:
    """A level that a ticket's ticks make up: the title of the checklist that tells so, and the day of its last step."""

    level: str
    checklist: str
    on: dt.date


def levels_ticked(ticket: Ticket) -> dict[str, str]:
    """The levels that the ticket's runs make up, each with the title of the checklist that tells so."""
    return {service.level: service.checklist for service in services_ticked(ticket)}


def services_ticked(ticket: Ticket) -> list[TickedService]:
    """The services that the ticket's runs make up, on the day on which each was done."""
    ticks = Tick.objects.filter(run__in=ticket.ticket_runs.values("run")).select_related("step", "run__checklist")
    outcomes: dict[tuple[int, str], Tick] = {}
    for tick in ticks.order_by("pk"):
        outcomes[tick.run_id, tick.step.key] = tick
    runs: dict[int, Run] = {}
    done: dict[int, dict[str, Tick]] = {}
    for (run_pk, step_key), tick in outcomes.items():
        if tick.outcome == Tick.Outcome.DONE:
            runs[run_pk] = tick.run
            done.setdefault(run_pk, {})[step_key] = tick
    steps = steps_by_checklist(run.checklist for run in runs.values())
    found: dict[str, TickedService] = {}
    for run_pk, run in runs.items():
        for level in levels_done(steps[run.checklist_id], run.facts, done[run_pk]):
            last = max(tick.ticked_at for tick in done[run_pk].values() if level in tick.step.services)
            found.setdefault(level, TickedService(level, run.checklist.title, timezone.localtime(last).date()))
    return list(found.values())


@transaction.atomic
def record_services_done(*, ticket: Ticket, by: User | None, on: dt.date | None = None) -> list[ServiceDone]:
    """Write down which services a ticket was, as its ticks tell, each on the day it was done unless `on` is given.

    Called at hand-back; calling it again is harmless.
    """
    made = []
    for ticked in services_ticked(ticket):
        service, _ = ServiceDone.objects.get_or_create(
            ticket=ticket,
            level=ticked.level,
            defaults={
                "unit_id": ticket.unit_id,
                "on": on or ticked.on,
                "told_by": f"Checklist “{ticked.checklist}”"[:160],
                "by": by,
                "at": timezone.now(),
            },
        )
        made.append(service)
    if made:
        log(
            ticket=ticket,
            by=by,
            kind="services_counted",
            values={"levels": _ordered(service.level for service in made)},
        )
    return made


def uncount_services_done(*, ticket: Ticket, by: User | None) -> None:
    """In the transaction that opens a ticket again: what it counted as moves no due day until it is handed back again,
    and is then counted from its ticks anew.
    """
    there = ServiceDone.objects.select_for_update().filter(ticket=ticket)
    levels = _ordered(service.level for service in there)
    if levels:
        there.delete()
        log(ticket=ticket, by=by, kind="services_uncounted", values={"levels": levels})


@transaction.atomic
def correct_services_done(*, ticket: Ticket, levels: Iterable[str], by: User | None) -> None:
    """Let the counter say which services a handed-back ticket was.

    Raises:
        ValidationError: the ticket was not handed back, or a level is unknown.
    """
    wanted = set(levels)
    if unknown := wanted - set(Level.values):
        raise ValidationError({"levels": f"There is no service level “{unknown.pop()}”."})
    handed_back = ticket.moves.filter(to_state=Ticket.State.HANDED_BACK).last()
    if handed_back is None or ticket.state != Ticket.State.HANDED_BACK:  # it may have been opened again since
        raise ValidationError({"levels": "Hand the unit back first; the services are counted from that day."})
    there = {service.level: service for service in ServiceDone.objects.select_for_update().filter(ticket=ticket)}
    if wanted == set(there):
        return
    ServiceDone.objects.filter(pk__in=[service.pk for level, service in there.items() if level not in wanted]).delete()
    for level in Level.values:
        if level in wanted and level not in there:
            service = ServiceDone(
                unit_id=ticket.unit_id,
                ticket=ticket,
                level=level,
                on=timezone.localtime(handed_back.at).date(),
                told_by="Corrected at the counter",
                by=by,
                at=timezone.now(),
            )
            service.full_clean(exclude=["unit", "ticket", "by"])
            service.save()
    log(
        ticket=ticket,
        by=by,
        kind="services_corrected",
        changes={"services": [_ordered(there), _ordered(wanted)]},
    )


@transaction.atomic
def note_service_elsewhere(
    *, unit: SuspensionUnit, level: str, on: dt.date, told_by: str, by: User | None
) -> ServiceDone:
    """Write down a service that was done elsewhere, or before the shop kept records; sent again it is the same one.

    Raises:
        ValidationError: the day cannot be meant, or that service of that day is noted from somebody else.
    """
    refuse_day("on", on, DayKind.HAPPENED)
    service = ServiceDone(unit=unit, level=level, on=on, told_by=told_by.strip(), by=by, at=timezone.now())
    service.full_clean(exclude=["unit", "by"], validate_constraints=False)
    # The constraint decides, so that of two presses at once one writes and the other finds it.
    made = ServiceDone.objects.bulk_create([service], ignore_conflicts=True)
    there = ServiceDone.objects.get(unit=unit, level=level, on=on, ticket=None)
    if there.told_by != made[0].told_by:
        raise ValidationError({"on": f"This service is noted for that day already; {there.told_by} told us."})
    return there


def _ordered(levels: Iterable[str]) -> list[str]:
    chosen = set(levels)
    return [level for level in Level.values if level in chosen]
