"""For each rule that the database holds: a row that keeps it, and the change, past all functions, that breaks it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import models

from diagnosis.models import Complaint, Run, StepTimer
from tests import factories as make
from workshop import models as shop_records

NOW = dt.datetime(2026, 3, 5, 12, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Broken:
    """`made` gives a lawful row, `bad` the fields that break `rule`, `mended` what an upgrade makes of them."""

    rule: str
    made: Callable[[], models.Model]
    bad: Mapping[str, Any]
    mended: Mapping[str, Any]


def _timer(run: Run | None = None, **fields: Any) -> StepTimer:
    run = run or make.RunFactory()
    step = fields.pop("step", None) or make.StepFactory(checklist=run.checklist)
    return StepTimer.objects.create(run=run, step=step, seconds=60, started_at=NOW, **fields)


def _second_run() -> Run:
    first = make.RunFactory(job=JOB)
    return make.RunFactory(checklist=first.checklist)


def _second_timer() -> StepTimer:
    first = _timer()
    return _timer(first.run, step=first.step, stopped_at=NOW)


def _withdrawn_link() -> shop_records.CustomerLink:
    return shop_records.CustomerLink.objects.create(
        ticket=make.TicketFactory(), secret_digest=uuid.uuid4().hex, made_at=NOW, expires_at=NOW + dt.timedelta(9),
        made_by=make.UserFactory(), withdrawn_at=NOW, withdrawn_by=make.UserFactory(),
    )  # fmt: skip


def _message() -> shop_records.Message:
    unit = make.SuspensionUnitFactory()
    return shop_records.Message.objects.create(
        shop=unit.shop, customer=unit.customer, unit=unit, channel="email", subject="Due", body="Due",
        due_on=NOW.date(), message_id=uuid.uuid4().hex, queued_at=NOW,
    )  # fmt: skip


def _order_line() -> shop_records.OrderLine:
    item = make.StockItemFactory()
    order = shop_records.PurchaseOrder.objects.create(shop=item.shop, number=1, supplier="Any", ordered_at=NOW)
    return shop_records.OrderLine.objects.create(order=order, item=item, ordered=1, cost=1)


def _labour() -> shop_records.LabourLine:
    return shop_records.LabourLine.objects.create(
        ticket=make.TicketFactory(), words="Work", price=1, minutes=5, rate_hour=Decimal(60), at=NOW
    )


def _move() -> shop_records.StateMove:
    return shop_records.StateMove.objects.create(
        ticket=make.TicketFactory(), to_state="waiting", waiting_for="parts", at=NOW
    )


def _price_change() -> shop_records.PriceChange:
    return shop_records.PriceChange.objects.create(item=make.StockItemFactory(), what="price", old=1, new=2, at=NOW)


def _used() -> models.Model:
    line = make.PartLineFactory()
    return make.StockMovementFactory(kind="used", quantity=-1, part_line=line)


def _checked() -> models.Model:
    return make.SpecValueFactory(checked_by=make.UserFactory(), checked_at=NOW)


def _retired() -> Complaint:
    complaint = make.ComplaintFactory()
    Complaint.objects.filter(pk=complaint.pk).update(retired_at=NOW, retired_by=make.UserFactory())
    return complaint


def _with_shop(model: type[models.Model], **fields: Any) -> Callable[[], models.Model]:
    return lambda: model._default_manager.create(shop=make.ShopFactory(), **fields)


JOB = uuid.UUID(int=7)
_POLICY, _BENCH = shop_records.RetentionPolicy, shop_records.BenchCapacity
BROKEN = (
    Broken("oil_viscosities_above_zero", make.OilFactory, {"kv40_mm2_s": 0.0}, {"kv40_mm2_s": None}),
    Broken("oil_viscosities_above_zero", make.OilFactory, {"kv100_mm2_s": -1.0}, {"kv100_mm2_s": None}),
    Broken("part_measures_above_zero", make.PartFactory, {"inside_mm": 0.0}, {"inside_mm": None}),
    Broken("part_measures_above_zero", make.PartFactory, {"section_mm": -2.0}, {"section_mm": None}),
    Broken("part_measures_above_zero", make.PartFactory, {"stanchion_mm": -35.0}, {"stanchion_mm": None}),
    Broken("checked_value_says_who_and_when", _checked, {"checked_at": None}, {"checked_by_id": None}),
    Broken("checked_value_says_who_and_when", _checked, {"checked_by_id": None}, {"checked_at": None}),
    Broken("spec_value_tolerance_not_negative", make.SpecValueFactory, {"tolerance_si": -1.0}, {"tolerance_si": None}),
    Broken("spec_value_numbered_from_one", make.SpecValueFactory, {"number": 0}, {"number": 1}),
    Broken(
        "model_coil_levels_through_no_port",
        make.SuspensionModelFactory,
        {"spring_kind": "coil", "self_equalising": True},
        {"self_equalising": None},
    ),
    Broken("checklist_numbered_from_one", make.ChecklistFactory, {"number": 0}, {"number": 1}),
    Broken("retired_complaint_says_when", _retired, {"retired_at": None}, {"retired_by_id": None}),
    Broken("checklist_once_in_a_job", _second_run, {"job": JOB}, {}),
    Broken("run_version_from_one", make.RunFactory, {"version": 0}, {"version": 1}),
    Broken("one_running_timer_of_a_step", _second_timer, {"stopped_at": None}, {"stopped_at": NOW}),
    Broken("timer_runs_some_time", _timer, {"seconds": 0}, {"seconds": 1}),
    Broken("tick_outcome_is_known", make.TickFactory, {"outcome": "perhaps"}, {"outcome": "taken_back"}),
    Broken(
        "only_a_finding_names_a_cause",
        lambda: make.TickFactory(outcome="found", cause=make.CauseFactory()),
        {"outcome": "cant_tell"},
        {"outcome": "cant_tell", "cause_id": None},
    ),
    Broken("bench_reckons_within_reason", _with_shop(_BENCH), {"mechanics": 51}, {"mechanics": 50}),
    Broken("bench_reckons_within_reason", _with_shop(_BENCH), {"usual_minutes": 0}, {"usual_minutes": 1}),
    Broken("bench_reckons_within_reason", _with_shop(_BENCH), {"unknown_lead_days": 400}, {"unknown_lead_days": 365}),
    Broken("bolt_wanted_torque_above_zero", make.BoltRecordFactory, {"wanted_nm": 0.0}, {"wanted_nm": None}),
    Broken(
        "bolt_wanted_torque_above_zero",
        make.BoltRecordFactory,
        {"wanted_tolerance_nm": -0.5},
        {"wanted_tolerance_nm": None},
    ),
    Broken("rider_mass_above_zero", make.CustomerFactory, {"rider_mass_kg": -80.0}, {"rider_mass_kg": None}),
    Broken("withdrawn_link_says_when", _withdrawn_link, {"withdrawn_at": None}, {}),
    Broken("document_revision_from_one", make.DocumentFactory, {"revision": 0}, {"revision": 1}),
    Broken(
        "coming_up_within_a_year",
        _with_shop(shop_records.IntervalPolicy),
        {"coming_up_days": 0},
        {"coming_up_days": 1},
    ),
    Broken(
        "coming_up_within_a_year",
        _with_shop(shop_records.IntervalPolicy),
        {"coming_up_days": 366},
        {"coming_up_days": 365},
    ),
    Broken("rate_of_labour_not_negative", _labour, {"rate_hour": Decimal(-60)}, {"rate_hour": Decimal(0)}),
    Broken("message_state_is_known", _message, {"state": "lost"}, {"state": "uncertain"}),
    Broken("message_channel_is_known", _message, {"channel": "pigeon"}, {"channel": "letter"}),
    Broken("order_line_cost_not_negative", _order_line, {"cost": Decimal(-1)}, {"cost": None}),
    Broken("part_line_price_not_negative", make.PartLineFactory, {"unit_price": Decimal(-1)}, {"unit_price": None}),
    Broken("part_line_status_is_known", make.PartLineFactory, {"status": "lost"}, {"status": "needed"}),
    Broken("part_line_source_is_known", make.PartLineFactory, {"source": "dream"}, {"source": "by_hand"}),
    Broken("photo_has_a_size", make.PhotoFactory, {"width": 0}, {"width": 1}),
    Broken("price_change_not_negative", _price_change, {"old": Decimal(-1)}, {"old": None}),
    Broken("price_change_not_negative", _price_change, {"new": Decimal(-2)}, {"new": None}),
    Broken("retention_from_one_to_thirty_years", _with_shop(_POLICY, years=3), {"years": 0}, {"years": None}),
    Broken("retention_from_one_to_thirty_years", _with_shop(_POLICY, years=3), {"years": 31}, {"years": None}),
    Broken("settings_not_below_zero", make.SettingsRecordFactory, {"pressure_pa": -1.0}, {"pressure_pa": None}),
    Broken("settings_not_below_zero", make.SettingsRecordFactory, {"sag_m": -0.01}, {"sag_m": None}),
    Broken("settings_not_below_zero", make.SettingsRecordFactory, {"rest_travel_m": -0.01}, {"rest_travel_m": None}),
    Broken(
        "labour_rate_not_negative",
        make.ShopFactory,
        {"labour_rate_hour": Decimal(-5)},
        {"labour_rate_hour": Decimal(0)},
    ),
    Broken("only_a_move_to_waiting_says_what_for", _move, {"to_state": "ready"}, {"waiting_for": ""}),
    Broken("lead_days_within_a_year", make.StockItemFactory, {"lead_days": 366}, {"lead_days": None}),
    Broken("movement_goes_the_way_of_its_kind", make.StockMovementFactory, {"quantity": -1}, {"kind": "counted"}),
    Broken("movement_goes_the_way_of_its_kind", make.StockMovementFactory, {"kind": "used"}, {"kind": "counted"}),
    Broken("movement_goes_the_way_of_its_kind", make.StockMovementFactory, {"kind": "stolen"}, {"kind": "counted"}),
    Broken("movement_goes_the_way_of_its_kind", _used, {"quantity": 1}, {"kind": "returned"}),
    Broken("movement_of_a_ticket_is_used_or_returned", _used, {"kind": "written_off"}, {"kind": "used"}),
    Broken("unit_travel_above_zero", make.SuspensionUnitFactory, {"travel_m": 0.0}, {"travel_m": None}),
    Broken("ticket_state_is_known", make.TicketFactory, {"state": "lost"}, {"state": "booked_in", "doubled_at": None}),
)


def change_past_all_functions(row: models.Model, changed: Mapping[str, Any]) -> None:
    type(row)._default_manager.filter(pk=row.pk).update(**changed)
