"""Working through a checklist as the demo's mechanic would, quickly: ticks and readings in bulk."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from diagnosis.layout import applies
from diagnosis.models import Cause, Checklist, Reading, Run, Step, Tick
from diagnosis.planning import causes_within_reach
from diagnosis.reading_kinds import options_of
from diagnosis.runs import start_run
from diagnosis.runs_rules import without_idle_repairs
from diagnosis.steps import steps_of
from specs.units import parse, show
from workshop.demo.working import worked_through
from workshop.staff.models import User
from workshop.tickets.models import SettingsRecord, Ticket, TicketRun

Outcome = Tick.Outcome

# What the demo reads, by the key of the reading; all invented.
USUAL_READINGS: Mapping[str, str] = {
    "rest_travel": "4 mm",
    "pump_pressure": "78 psi",
    "pressure_set": "82 psi",
    "pressure_recheck": "81 psi",
    "rebound_clicks": "7",
    "compression_clicks": "5",
    "sag": "30 mm",
    "pressure_start": "82 psi",
    "pressure_hose": "80 psi",
    "pressure_after_wait": "74 psi",
    "pressure_reached": "110 psi",
    "full_travel": "150 mm",
    "travel_used": "146 mm",
    "spacers_found": "2",
    "spacers_left": "1",
    "measured_air_leg": "9 ml",
    "measured_damper_leg": "13 ml",
    "oil_air_leg": "10 ml",
    "oil_damper_leg": "15 ml",
    "foot_torque_air_leg": "8 N·m",
    "foot_torque_damper_leg": "8 N·m",
    "mount_torque": "10 N·m",
}


def walk(*, ticket: Ticket, by: User, cause: str | None, chance: random.Random, share: float = 1.0) -> Run | None:
    """Start the ticket's checklist and answer the first `share` of its steps; None where no checklist suits."""
    wanted = Checklist.objects.filter(is_current=True, complaint__in=ticket.complaints.all())
    checklist = next((c for c in wanted if ticket.unit.kind in c.suits), None)
    if checklist is None:
        return None
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=by)
    TicketRun.objects.create(ticket=ticket, run=run)
    steps = without_idle_repairs([step for step in steps_of(checklist) if applies(step, run.facts) != "no"], {})
    within_reach = causes_within_reach(steps, run.facts, checklist.priors)
    if within_reach and cause not in within_reach:  # none was named, or a coil fork cannot have it
        cause = chance.choices(list(within_reach), list(within_reach.values()))[0]
    answered = steps[: max(1, round(len(steps) * share))]
    arrival = _arrival(ticket)
    found_cause = Cause.objects.filter(key=cause).first()
    now, minutes, found = timezone.now(), 0.0, False
    ticks, readings = [], []

    def answer(step: Step) -> str:
        return _outcome(step, cause, found, chance)

    for step, outcome in worked_through(steps, answered, run.facts, answer):
        minutes += step.minutes * chance.uniform(0.7, 1.5)
        at = now + dt.timedelta(minutes=minutes)
        found = found or outcome == Outcome.FOUND
        known = {} if step.kind == Step.Kind.PROOF else arrival
        named = found_cause if outcome == Outcome.FOUND else None
        ticks.append(Tick(run=run, step=step, outcome=outcome, cause=named, by=by, ticked_at=at))
        readings += [
            Reading(run=run, step=step, key=plan["key"], by=by, read_at=at, **_read(plan, known, chance))
            for plan in step.readings
            if plan.get("required")
        ]
    Tick.objects.bulk_create(ticks)
    Reading.objects.bulk_create(readings)
    Run.objects.filter(pk=run.pk).update(version=1 + len(ticks), ended_at=now if share == 1.0 else None)
    return run


def _outcome(step: Step, cause: str | None, found: bool, chance: random.Random) -> str:
    if step.kind == Step.Kind.WORK:
        return Outcome.DONE
    if step.kind == Step.Kind.PROOF:
        return Outcome.PROVED
    if not found and cause is not None and chance.random() < step.ends_search.get(cause, 0.0):
        return Outcome.FOUND
    return Outcome.RULED_OUT


def _arrival(ticket: Ticket) -> Mapping[str, str]:
    """What the counter wrote down on arrival; the steps that read the same must agree with it."""
    record = ticket.settings_records.filter(moment=SettingsRecord.Moment.ARRIVAL).first()
    if record is None:
        return {}
    read = {
        "rest_travel": record.rest_travel_m and show(record.rest_travel_m, "length", "mm"),
        "pump_pressure": record.pressure_pa and show(record.pressure_pa, "pressure", "psi"),
        "rebound_clicks": record.rebound_clicks and str(record.rebound_clicks),
        "compression_clicks": record.compression_clicks and str(record.compression_clicks),
    }
    return {key: str(value) for key, value in read.items() if value}


def _read(plan: Mapping[str, Any], arrival: Mapping[str, str], chance: random.Random) -> dict[str, Any]:
    if options := options_of(plan):
        return {"magnitude_si": None, "typed": chance.choice(options)}
    typed = arrival.get(plan["key"]) or USUAL_READINGS.get(plan["key"])
    if typed is None:
        low, high = (parse(plan[end], plan["quantity"], plan["unit"]) for end in ("low", "high"))
        typed = show(low + (high - low) * chance.uniform(0.1, 0.3), plan["quantity"], plan["unit"])
    return {"magnitude_si": parse(typed, plan["quantity"], plan["unit"]), "typed": typed}
