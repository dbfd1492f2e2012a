"""The critical bolts of a ticket: what they want, what they were tightened to, and the second pair of eyes."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format

from diagnosis.judging import judge
from diagnosis.layout import applies
from diagnosis.layout_plans import BOLTS
from diagnosis.models import Run, Step
from diagnosis.steps import steps_by_checklist
from diagnosis.wanted import UnitKnown, yardstick_of
from specs.lookup import SpecWritten, current_values, written
from specs.models import SpecValue
from specs.quantities import QUANTITIES, ImplausibleValue, check_plausible
from specs.units import UnitError, parse, show
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.torque.models import BOLT_LABELS, BoltRecord, TorqueTool
from workshop.torque.tools import allowance_nm, calibration_mark, deviation_of, outside_mark, range_mark

# Beyond twice or under half of the wanted torque a decimal point or a unit has slipped; common practice.
SLIP_FACTOR = 2.0
WAITS_FOR_SECOND = "It is not recorded yet: its tool is doubtful, and a second person has not confirmed it."


class BoltRefused(ValueError):
    """A torque that cannot be recorded; `field` says beside which field the reason belongs."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(reason)
        self.field = field


class BoltDoubtful(BoltRefused):
    """A torque or a tool that is recorded once somebody says why it is so all the same."""


class CannotCountersign(ValueError):
    """Why this person cannot confirm this record."""


@dataclass(frozen=True)
class BoltState:
    """A critical bolt of a ticket: what is wanted, the record that counts, and the steps that tighten it."""

    bolt: str
    wanted: SpecWritten
    steps: tuple[Step, ...]
    record: BoltRecord | None

    @property
    def label(self) -> str:
        return BOLT_LABELS[self.bolt]

    @property
    def marks(self) -> list[str]:
        """What is doubtful about the record that counts; first that it does not count yet."""
        if self.record is None:
            return []
        return [*([WAITS_FOR_SECOND] if self.record.waits_for_second else []), *self.record.marks]

    def can_be_countersigned_by(self, user: User) -> bool:
        """Whether this person may confirm what counts now."""
        record = self.record
        return record is not None and record.countersigned_by_id is None and record.by_id != user.pk


def bolts_of(ticket: Ticket, *, only: Sequence[str] | None = None, also: Collection[str] = ()) -> list[BoltState]:
    """The critical bolts of the ticket's steps and `also`, in the order of BOLTS; with `only`, just these of them.

    A number of queries that does not depend on how many steps, bolts or records there are. Steps that do not apply to
    this unit are left out. The ticket's unit and model should be with it (`Ticket.objects.with_names()`).
    """
    steps = _steps_by_bolt(ticket)
    wanted_bolts = [bolt for bolt in BOLTS if (bolt in steps or bolt in also if only is None else bolt in only)]
    records = _latest_records(ticket)
    values = _values(ticket)
    unit_for = ticket.shop.unit_for
    return [
        BoltState(
            bolt=bolt,
            wanted=written(QUANTITIES[BOLTS[bolt]], values.get(BOLTS[bolt]), unit_for),
            steps=tuple(steps.get(bolt, ())),
            record=records.get(bolt),
        )
        for bolt in wanted_bolts
    ]


def bolt_rows(ticket: Ticket, *, planned: Iterable[Step] = ()) -> list[dict[str, Any]]:
    """The critical bolts, those of `planned` steps too, as plain JSON in the shop's words, for the work order."""
    also = {bolt for step in planned for bolt in step.bolts}
    return [_row(state, ticket.shop.unit_for("torque")) for state in bolts_of(ticket, also=also)]


@transaction.atomic
def record_bolt(
    *,
    ticket: Ticket,
    bolt: str,
    typed: str,
    by: User,
    client_id: uuid.UUID,
    tool: TorqueTool | None = None,
    run: Run | None = None,
    step: Step | None = None,
    reason: str = "",
) -> BoltRecord:
    """Record what a bolt was tightened to, with what is doubtful about it. The same `client_id` again changes nothing.

    An overdue, unsuited or inexact tool, or a torque under the tolerance, is taken with a `reason`, and marked with
    both; with such a tool it counts as recorded only once a second person countersigned it.

    Raises:
        BoltRefused: no torque, one that can only be a slip, one above the top of the range on record, another shop's
            or a retired tool, or a closed ticket.
        BoltDoubtful: an overdue, unsuited or inexact tool, or a torque outside the tolerance, without a reason.
    """
    Ticket.objects.select_for_update(no_key=True).only("pk").get(
        pk=ticket.pk
    )  # of two taps the second finds the first's record
    made_before = BoltRecord.objects.filter(client_id=client_id).first()
    if made_before is not None:
        if (made_before.ticket_id, made_before.bolt) != (ticket.pk, bolt):
            raise BoltRefused("torque", "This form was sent for another bolt already. Load the page again.")
        return made_before
    _check_place(ticket, bolt, tool)
    unit = ticket.shop.unit_for("torque")
    torque_nm = _read(typed, unit)
    value = _values(ticket).get(BOLTS[bolt])
    wanted_nm = None if value is None else value.magnitude_si
    tolerance_nm = None if value is None else value.tolerance_si
    _refuse_slip(bolt, torque_nm, wanted_nm, unit)
    _refuse_above_the_top(bolt, torque_nm, value, tool, unit)
    of_tool = _doubts_of_tool(torque_nm, tool, unit)
    doubts = [*_doubts_of_torque(torque_nm, value, tool, unit), *of_tool]
    if doubts and not reason:
        raise BoltDoubtful("torque", f"{' '.join(doubts)} Tighten it anew, or say why it is so all the same.")
    record = BoltRecord(
        ticket=ticket,
        run=run,
        step=step,
        bolt=bolt,
        torque_nm=torque_nm,
        typed=typed.strip(),
        wanted_nm=wanted_nm,
        wanted_tolerance_nm=tolerance_nm,
        tool=tool,
        marks=[*_marks(value, tool), *doubts, *([f"Why all the same: {reason}"] if doubts else [])],
        needs_second=bool(of_tool),
        client_id=client_id,
        by=by,
        at=timezone.now(),
    )
    # The torque was judged above and what is wanted at its entry; a tick does not pay four statements to hear it again.
    record.full_clean(exclude=["ticket", "run", "step", "tool", "by"], validate_constraints=False)
    record.save()
    values = {"bolt": bolt, "torque_nm": torque_nm, "tool": tool.number if tool else ""}
    log(ticket=ticket, by=by, kind="bolt_tightened", values=values)
    return record


@transaction.atomic
def countersign(*, record: BoltRecord, by: User) -> BoltRecord:
    """Let a second person confirm a record; twice by the same person is harmless.

    Raises CannotCountersign: the person who tightened it, somebody did already, or it was tightened again since.
    """
    record = BoltRecord.objects.select_for_update(of=("self",)).select_related("ticket", "by").get(pk=record.pk)
    if record.by_id == by.pk:
        raise CannotCountersign("Whoever tightened a bolt cannot do its second-person check. Ask a second person.")
    if record.countersigned_by_id == by.pk:
        return record
    if record.countersigned_by_id is not None:
        raise CannotCountersign(f"{record.countersigned_by} has done the second-person check already.")
    if BoltRecord.objects.filter(ticket=record.ticket_id, bolt=record.bolt, pk__gt=record.pk).exists():
        raise CannotCountersign("This bolt was tightened again since. Look at the newer record.")
    record.countersigned_by, record.countersigned_at = by, timezone.now()
    record.full_clean(exclude=["ticket", "run", "step", "tool", "by", "countersigned_by"])
    record.save(update_fields=["countersigned_by", "countersigned_at"])
    log(ticket=record.ticket, by=by, kind="bolt_countersigned", values={"bolt": record.bolt})
    return record


def _steps_by_bolt(ticket: Ticket) -> dict[str, list[Step]]:
    runs = list(Run.objects.filter(pk__in=ticket.ticket_runs.values("run")).select_related("checklist"))
    steps = steps_by_checklist(run.checklist for run in runs)
    found: dict[str, list[Step]] = {}
    for run in runs:
        for step in steps[run.checklist_id]:
            if applies(step, run.facts) == "no":
                continue
            for bolt in step.bolts:
                if step.key not in {known.key for known in found.get(bolt, ())}:  # runs may share it
                    found.setdefault(bolt, []).append(step)
    return found


def _latest_records(ticket: Ticket) -> dict[str, BoltRecord]:
    records = BoltRecord.objects.filter(ticket=ticket).select_related("tool", "by", "countersigned_by").order_by("pk")
    return {record.bolt: record for record in records}


def _values(ticket: Ticket) -> Mapping[str, SpecValue]:
    unit = ticket.unit
    if unit.model is None:
        return {}
    return current_values(unit.model, None if unit.travel_m is None else round(unit.travel_m * 1000))


def _check_place(ticket: Ticket, bolt: str, tool: TorqueTool | None) -> None:
    if bolt not in BOLTS:
        raise BoltRefused("torque", "There is no such bolt.")
    if not ticket.is_open:
        raise BoltRefused("torque", f"This ticket is “{ticket.state_words}”; nothing is tightened on it any more.")
    if tool is not None and (tool.shop_id != ticket.shop_id or tool.retired):
        raise BoltRefused("tool", "Choose a tool of this shop that is in use.")


def _read(typed: str, unit: str) -> float:
    try:
        torque_nm = parse(typed, "torque", unit)
    except UnitError as error:
        raise BoltRefused("torque", str(error)) from error
    if torque_nm <= 0:
        raise BoltRefused("torque", "Enter what the wrench was set to, above zero.")
    return torque_nm


def _refuse_slip(bolt: str, torque_nm: float, wanted_nm: float | None, unit: str) -> None:
    if wanted_nm is None:
        try:
            check_plausible(BOLTS[bolt], torque_nm)
        except ImplausibleValue as error:
            raise BoltRefused("torque", str(error)) from error
        return
    if wanted_nm / SLIP_FACTOR <= torque_nm <= wanted_nm * SLIP_FACTOR:
        return
    typed, wanted = show(torque_nm, "torque", unit), show(wanted_nm, "torque", unit)
    tenfold = next((f"Was {wanted} meant? " for ten in (10, 0.1) if abs(torque_nm / ten / wanted_nm - 1) < 0.1), "")
    raise BoltRefused(
        "torque",
        f"{typed} is far from the {wanted} on record. {tenfold}"
        "If the record is wrong, have it put right in the specs first.",
    )


def _refuse_above_the_top(
    bolt: str, torque_nm: float, value: SpecValue | None, tool: TorqueTool | None, unit: str
) -> None:
    if value is None:
        return
    key = BOLTS[bolt]
    plan = {"key": key, "quantity": "torque", "unit": unit, "wanted": key}
    yardstick = yardstick_of(plan, UnitKnown({key: value}), torque_share=None if tool is None else deviation_of(tool))
    judged = judge(
        torque_nm, yardstick, dimension="torque", unit=unit, write=lambda nm, dimension: show(nm, dimension, unit)
    )
    if judged.standing == "never":
        raise BoltRefused(
            "torque",
            f"{judged.sentence} If it was tightened so, loosen it, look at bolt and thread, and tighten it again. "
            "If the record is wrong, have it put right in the specs first.",
        )


def _marks(value: SpecValue | None, tool: TorqueTool | None) -> list[str]:
    """What is not known of a record."""
    marks = []
    if value is None or value.magnitude_si is None:
        marks.append("No wanted torque is on record: see the maker’s manual.")
    elif not value.is_checked:
        marks.append("The wanted torque is not checked against the manual.")
    if tool is None:
        return [*marks, "No tool is named."]
    return marks if tool.calibrated_until else [*marks, calibration_mark(tool, timezone.localdate())]


def _doubts_of_torque(torque_nm: float, value: SpecValue | None, tool: TorqueTool | None, unit: str) -> list[str]:
    """What speaks against the torque, so that somebody has to say why it is so all the same."""
    if value is None or value.magnitude_si is None:
        return []
    allowed_nm = allowance_nm(value.magnitude_si, value.tolerance_si, tool)
    if abs(torque_nm - value.magnitude_si) <= allowed_nm + 1e-9:
        return []
    wanted = f"{show(value.magnitude_si, 'torque', unit)} ±{show(allowed_nm, 'torque', unit)}"
    return [f"{show(torque_nm, 'torque', unit)} is outside the wanted {wanted}."]


def _doubts_of_tool(torque_nm: float, tool: TorqueTool | None, unit: str) -> list[str]:
    """What speaks against the tool: a reason is asked, and a second person before it counts."""
    if tool is None:
        return []
    overdue = calibration_mark(tool, timezone.localdate()) if tool.calibrated_until else ""
    return [mark for mark in (overdue, outside_mark(tool), range_mark(tool, torque_nm, unit)) if mark]


def _row(state: BoltState, unit: str) -> dict[str, Any]:
    record = state.record
    row: dict[str, Any] = {
        "bolt": state.bolt,
        "label": state.label,
        "wanted": state.wanted.text if state.wanted.number else "",
        "unit": unit,
        "checked": state.wanted.checked,
        "source": state.wanted.source,
        "recorded": "",
        "tool": "",
        "by": "",
        "at": "",
        "marks": state.marks,
        "countersigned_by": "",
        "countersigned_at": "",
    }
    if record is not None:
        row |= {
            "recorded": show(record.torque_nm, "torque", unit),
            "tool": str(record.tool or ""),
            "by": str(record.by),
            "at": _moment(record.at),
            "countersigned_by": str(record.countersigned_by or ""),
            "countersigned_at": _moment(record.countersigned_at) if record.countersigned_at else "",
        }
    return row


def _moment(at: Any) -> str:
    return str(date_format(timezone.localtime(at), "j M Y, H:i"))
