"""What the readings of a step are held against on a ticket's unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from diagnosis.declared import key_measuring
from diagnosis.judging import Yardstick
from diagnosis.layout_plans import BOLTS
from diagnosis.models import Step
from diagnosis.reading_kinds import options_of
from diagnosis.runs_readings import Typed
from diagnosis.wanted import SETTING, UnitKnown, is_judged, yardstick_of
from workshop.staff.models import Shop
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.torque.models import TorqueTool
from workshop.torque.tools import deviation_of
from workshop.work.work import ForkValues


def units_of(shop: Shop, step: Step) -> dict[str, str]:
    """The unit printed beside each of the step's readings, by dimension."""
    return {plan["quantity"]: shop.unit_for(plan["quantity"]) for plan in step.readings if not options_of(plan)}


def judges_anything(step: Step) -> bool:
    """Whether any reading of the step is held against something, so that the unit's values are asked for."""
    return any(is_judged(plan) for plan in step.readings)


def bolt_readings(step: Step) -> dict[str, str]:
    """Each critical bolt that the step tightens, and the key of the reading that records its torque, if it has one."""
    return {bolt: key for bolt in step.bolts if (key := key_measuring(step.readings, BOLTS[bolt]))}


def yardsticks(
    ticket: Ticket, step: Step, values: ForkValues, tools: Mapping[str, TorqueTool | None] | None = None
) -> dict[str, Yardstick]:
    """By reading key. `tools` are those that the step's bolts were tightened with, by bolt."""
    known = unit_known(ticket, values, step.readings)
    shares = {
        key: deviation_of(tool)
        for bolt, key in bolt_readings(step).items()
        if (tool := (tools or {}).get(bolt)) is not None
    }
    return {
        plan["key"]: yardstick_of(plan, known, torque_share=shares.get(plan["key"]))
        for plan in step.readings
        if is_judged(plan)
    }


def unit_known(ticket: Ticket, values: ForkValues, plans: Iterable[Mapping[str, Any]] = ()) -> UnitKnown:
    """What is known of the ticket's unit; the pressure of the counter is looked for only where a reading wants it."""
    setting_pa = None
    if any(plan.get("wanted") == SETTING for plan in plans):
        setting_pa = next(
            (
                record.pressure_pa
                for record in ticket.settings_records.all()
                if record.moment == SettingsRecord.Moment.ARRIVAL
            ),
            None,
        )
    return UnitKnown(values.values, ticket.unit.travel_m, setting_pa, ticket.unit.kind)


def typed_at(
    shop: Shop,
    step: Step,
    typed: Mapping[str, str],
    held_against: Mapping[str, Yardstick],
    *,
    above_maximum_is_meant: bool = False,
    reasons: Mapping[str, str] | None = None,
) -> Typed:
    """What was typed at a step, in the shop's units, with what it is judged by."""
    return Typed(typed, units_of(shop, step), held_against, above_maximum_is_meant, reasons or {})
