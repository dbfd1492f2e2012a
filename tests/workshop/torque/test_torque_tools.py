"""Torque tools, and the bolts of a ticket: recorded, marked, countersigned. Classes: ISO 6789, from memory."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.utils import timezone

from specs.models import SpecValue
from tests.factories import (
    BoltRecordFactory,
    ChecklistFactory,
    RunFactory,
    ShopFactory,
    SpecValueFactory,
    StepFactory,
    TicketFactory,
    TicketRunFactory,
    TorqueToolFactory,
    UserFactory,
)
from tests.logbook import said
from workshop.models import BoltRecord, Shop, Ticket, TorqueTool, User
from workshop.torque.bolts import (
    BoltDoubtful,
    BoltRefused,
    CannotCountersign,
    bolt_rows,
    bolts_of,
    countersign,
    record_bolt,
)
from workshop.torque.tools import (
    calibration_mark,
    change_tool,
    deviation_of,
    register_tool,
    set_retired,
    tools_of,
)
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db

TODAY = dt.date(2026, 6, 1)


def axle(ticket: Ticket, nm: float = 12.0, tolerance: float | None = 1.0, **more: Any) -> SpecValue:
    """The wanted torque of a ticket's axle, checked."""
    checked = {"checked_by": UserFactory(shop=ticket.shop), "checked_at": timezone.now()}
    value: SpecValue = SpecValueFactory(
        model=ticket.unit.model, quantity="axle_torque", magnitude_si=nm, tolerance_si=tolerance, typed=f"{nm} N·m",
        **(checked | more),
    )  # fmt: skip
    return value


def with_bolts(ticket: Ticket, *bolts: str, **step: Any) -> Any:
    """A run of the ticket with a step that tightens these bolts."""
    checklist = ChecklistFactory()
    made = StepFactory(checklist=checklist, kind="work", bolts=list(bolts), **step)
    TicketRunFactory(ticket=ticket, run=RunFactory(checklist=checklist, facts={"kind": "fork", "foam_rings": False}))
    return made


@pytest.fixture
def ticket() -> Ticket:
    return TicketFactory(state="on_the_bench")


@pytest.fixture
def mechanic(ticket: Ticket) -> User:
    return UserFactory(shop=ticket.shop, mechanic=True)


@pytest.fixture
def second(ticket: Ticket) -> User:
    return UserFactory(shop=ticket.shop, mechanic=True)


@pytest.fixture
def tool(ticket: Ticket) -> TorqueTool:
    return TorqueToolFactory(shop=ticket.shop, number="TW-1")


def record(ticket: Ticket, by: User, typed: str = "12", **more: Any) -> BoltRecord:
    words: dict[str, Any] = {"ticket": ticket, "bolt": "axle", "typed": typed, "by": by, "client_id": uuid.uuid4()}
    return record_bolt(**(words | more))


# Tools.


def test_a_tool_is_registered() -> None:
    shop = ShopFactory()
    made = register_tool(
        shop=shop, number=" TW-7 ", name="Large wrench", low_nm=10.0, high_nm=60.0, tool_class="II-A",
        calibrated_on=dt.date(2026, 1, 1), calibrated_until=dt.date(2027, 1, 1),
    )  # fmt: skip
    assert str(made) == "TW-7 Large wrench"
    assert list(tools_of(shop)) == [made]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"low_nm": 60.0}, "high_nm"),
        ({"calibrated_until": dt.date(2025, 1, 1)}, "calibrated_until"),
        ({"number": "  "}, "number"),
        ({"tool_class": "III-Z"}, "tool_class"),
    ],
)
def test_a_tool_that_cannot_be_is_refused_beside_its_field(changed: dict[str, Any], field: str) -> None:
    entered: dict[str, Any] = {
        "shop": ShopFactory(), "number": "TW-7", "name": "Wrench", "low_nm": 10.0, "high_nm": 60.0,
        "tool_class": "II-A", "calibrated_on": dt.date(2026, 1, 1), "calibrated_until": None,
    }  # fmt: skip
    with pytest.raises(ValidationError) as refused:
        register_tool(**(entered | changed))
    assert field in refused.value.message_dict
    assert not TorqueTool.objects.exists()


def test_a_number_is_once_in_a_shop(tool: TorqueTool) -> None:
    with pytest.raises(ValidationError, match="number already"):
        register_tool(shop=tool.shop, number="TW-1", name="Twin", low_nm=1.0, high_nm=5.0, tool_class="II-A")
    register_tool(shop=ShopFactory(), number="TW-1", name="Elsewhere", low_nm=1.0, high_nm=5.0, tool_class="II-A")


def test_a_change_made_meanwhile_is_not_overwritten(tool: TorqueTool) -> None:
    entered: dict[str, Any] = {"number": "TW-1", "name": "Mine", "low_nm": 2.0, "high_nm": 14.0, "tool_class": "II-A"}
    change_tool(tool=TorqueTool.objects.get(), seen_version=1, **(entered | {"name": "Theirs"}))
    with pytest.raises(StaleVersion):
        change_tool(tool=tool, seen_version=1, **entered)
    assert TorqueTool.objects.get().name == "Theirs"


def test_a_retired_tool_leaves_the_list_and_comes_back(tool: TorqueTool) -> None:
    set_retired(tool=tool, seen_version=1, retired=True)
    assert list(tools_of(tool.shop)) == []
    assert list(tools_of(tool.shop, with_retired=True)) == [tool]
    set_retired(tool=tool, seen_version=2, retired=False)
    assert list(tools_of(tool.shop)) == [tool]


def test_a_tool_with_records_cannot_be_deleted(ticket: Ticket, tool: TorqueTool) -> None:
    BoltRecordFactory(ticket=ticket, tool=tool)
    with pytest.raises(ProtectedError):
        tool.delete()


@pytest.mark.parametrize(
    ("until", "mark"),
    [
        (dt.date(2026, 6, 1), ""),
        (dt.date(2026, 5, 31), "The calibration of TW-1 ran out on 31 May 2026."),
        (None, "TW-1 has no calibration on record."),
    ],
)
def test_a_calibration_holds_through_its_last_day(until: dt.date | None, mark: str) -> None:
    assert calibration_mark(TorqueTool(number="TW-1", calibrated_until=until), TODAY) == mark


@pytest.mark.parametrize(("kind", "high", "share"), [("II-A", 10, 0.06), ("II-A", 60, 0.04), ("I-A", 60, 0.06)])
def test_the_class_says_how_far_off_a_tool_may_be(kind: str, high: float, share: float) -> None:
    assert deviation_of(TorqueTool(tool_class=kind, high_nm=high)) == share


# Recording.


def test_a_bolt_is_recorded_plainly(ticket: Ticket, mechanic: User, tool: TorqueTool) -> None:
    axle(ticket)
    made = record(ticket, mechanic, "106 in·lbf", tool=tool)
    made.refresh_from_db()
    assert made.torque_nm == pytest.approx(106 * 0.1129848290)  # NIST SP 811
    assert (made.typed, made.wanted_nm, made.wanted_tolerance_nm, made.marks) == ("106 in·lbf", 12.0, 1.0, [])
    assert said(ticket.events.first()) == "Axle tightened to 12 N·m with TW-1"


def test_the_shops_unit_is_meant_where_none_is_typed(ticket: Ticket, mechanic: User) -> None:
    Shop.objects.filter(pk=ticket.shop_id).update(torque_unit="in·lbf")
    ticket.shop.refresh_from_db()
    assert record(ticket, mechanic, "106").torque_nm == pytest.approx(11.976, abs=0.001)


def test_the_same_form_twice_records_once(ticket: Ticket, mechanic: User) -> None:
    client_id = uuid.uuid4()
    first = record(ticket, mechanic, client_id=client_id)
    assert record(ticket, mechanic, "9", client_id=client_id) == first
    assert BoltRecord.objects.count() == 1
    with pytest.raises(BoltRefused, match="another bolt"):
        record(ticket, mechanic, client_id=client_id, bolt="stem")


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("", "Enter a number"),
        ("12 psi", "not a unit of torque"),
        ("0", "above zero"),
        ("120", "120 N·m is far from the 12 N·m on record. Was 12 N·m meant?"),
        ("1.2", "Was 12 N·m meant?"),
        ("25", "If the record is wrong"),
    ],
)
def test_a_slip_is_refused_with_a_reason(ticket: Ticket, mechanic: User, typed: str, reason: str) -> None:
    axle(ticket)
    with pytest.raises(BoltRefused) as refused:
        record(ticket, mechanic, typed)
    assert reason in str(refused.value)
    assert refused.value.field == "torque"
    assert not BoltRecord.objects.exists()


def test_without_a_wanted_torque_only_the_impossible_is_refused(ticket: Ticket, mechanic: User) -> None:
    with pytest.raises(BoltRefused, match="decimal point"):
        record(ticket, mechanic, "80")
    assert "No wanted torque is on record: see the maker’s manual." in record(ticket, mechanic, "8").marks


@pytest.mark.parametrize(("typed", "is_marked"), [("13", False), ("11", False), ("10.9", True)])
def test_outside_the_makers_tolerance_it_wants_a_reason_and_is_marked(
    ticket: Ticket, mechanic: User, tool: TorqueTool, typed: str, is_marked: bool
) -> None:
    axle(ticket, 12.0, 1.0)
    if is_marked:
        with pytest.raises(BoltDoubtful, match=r"outside the wanted 12 N·m ±1 N·m.* say why"):
            record(ticket, mechanic, typed, tool=tool)
    marks = record(ticket, mechanic, typed, tool=tool, reason="the frame's maker says so").marks
    assert any("outside the wanted 12 N·m ±1 N·m" in mark for mark in marks) is is_marked
    assert ("Why all the same: the frame's maker says so" in marks) is is_marked


@pytest.mark.parametrize(("tolerance_nm", "typed"), [(1.0, "13.1"), (1.0, "23"), (None, "15.1")])
def test_above_the_top_of_the_range_no_reason_helps(
    ticket: Ticket, mechanic: User, tool: TorqueTool, tolerance_nm: float | None, typed: str
) -> None:
    axle(ticket, 12.0, tolerance_nm)
    with pytest.raises(BoltRefused, match="above the top of the range on record") as refused:
        record(ticket, mechanic, typed, tool=tool, reason="it felt right")
    assert not isinstance(refused.value, BoltDoubtful)
    assert not BoltRecord.objects.exists()


def test_without_a_tolerance_the_tools_class_is_the_measure(ticket: Ticket, mechanic: User, tool: TorqueTool) -> None:
    axle(ticket, 12.0, None)
    assert record(ticket, mechanic, "12.4", tool=tool).marks == []
    assert any("±0.5 N·m" in mark for mark in record(ticket, mechanic, "12.6", tool=tool, reason="as it came").marks)


def test_an_unchecked_wanted_torque_is_marked(ticket: Ticket, mechanic: User, tool: TorqueTool) -> None:
    axle(ticket, checked_by=None, checked_at=None)
    assert record(ticket, mechanic, tool=tool).marks == ["The wanted torque is not checked against the manual."]


def test_an_overdue_tool_is_allowed_with_a_reason_and_marked_for_good(ticket: Ticket, mechanic: User) -> None:
    axle(ticket)
    late = TorqueToolFactory(shop=ticket.shop, number="TW-9", overdue=True)
    marks = ["The calibration of TW-9 ran out on 3 May 2025.", "Why all the same: the other is away"]
    with pytest.raises(BoltDoubtful, match="ran out on 3 May 2025"):
        record(ticket, mechanic, tool=late)
    made = record(ticket, mechanic, tool=late, reason="the other is away")
    assert made.marks == marks
    TorqueTool.objects.filter(pk=late.pk).update(calibrated_until=dt.date(2030, 1, 1))
    made.refresh_from_db()
    assert made.marks == marks


@pytest.mark.parametrize(
    ("low", "high", "reason"),
    [(2.0, 10.0, "outside the range of TW-8, 2 N·m to 10 N·m"), (5.0, 100.0, "in the lowest fifth of TW-8")],
)
def test_an_unsuited_tool_is_allowed_with_a_reason_and_marked(
    ticket: Ticket, mechanic: User, low: float, high: float, reason: str
) -> None:
    axle(ticket)
    unsuited = TorqueToolFactory(shop=ticket.shop, number="TW-8", low_nm=low, high_nm=high)
    with pytest.raises(BoltDoubtful, match=reason):
        record(ticket, mechanic, tool=unsuited)
    marks = record(ticket, mechanic, tool=unsuited, reason="nothing else here").marks
    assert len(marks) == 2
    assert reason in marks[0]


def test_a_tool_whose_calibration_nobody_knows_is_marked(ticket: Ticket, mechanic: User) -> None:
    axle(ticket)
    unknown = TorqueToolFactory(shop=ticket.shop, number="TW-7", calibrated_on=None, calibrated_until=None)
    assert record(ticket, mechanic, tool=unknown).marks == ["TW-7 has no calibration on record."]


def test_no_tool_is_marked(ticket: Ticket, mechanic: User) -> None:
    axle(ticket)
    assert record(ticket, mechanic).marks == ["No tool is named."]


def test_another_shops_and_a_retired_tool_are_refused(ticket: Ticket, mechanic: User) -> None:
    for wrong in (TorqueToolFactory(), TorqueToolFactory(shop=ticket.shop, retired=True)):
        with pytest.raises(BoltRefused) as refused:
            record(ticket, mechanic, tool=wrong)
        assert refused.value.field == "tool"


def test_nothing_is_tightened_on_a_closed_ticket(ticket: Ticket, mechanic: User) -> None:
    ticket.state = Ticket.State.HANDED_BACK
    ticket.save()
    with pytest.raises(BoltRefused, match="Handed back"):
        record(ticket, mechanic)


def test_a_bolt_there_is_not(ticket: Ticket, mechanic: User) -> None:
    with pytest.raises(BoltRefused, match="no such bolt"):
        record(ticket, mechanic, bolt="saddle")


# Countersigning.


def test_a_second_person_countersigns(ticket: Ticket, mechanic: User, second: User) -> None:
    made = countersign(record=record(ticket, mechanic), by=second)
    assert made.countersigned_by == second
    assert made.countersigned_at is not None
    assert said(ticket.events.first()) == "Axle: second-person check done"
    assert countersign(record=made, by=second).countersigned_at == made.countersigned_at


def test_nobody_countersigns_their_own(ticket: Ticket, mechanic: User) -> None:
    with pytest.raises(CannotCountersign, match="second person"):
        countersign(record=record(ticket, mechanic), by=mechanic)


def test_not_by_a_third_person_and_not_an_older_record(ticket: Ticket, mechanic: User, second: User) -> None:
    first = record(ticket, mechanic)
    countersign(record=first, by=second)
    with pytest.raises(CannotCountersign, match="already"):
        countersign(record=first, by=UserFactory(shop=ticket.shop, owner=True))
    older = record(ticket, mechanic, "11.5")
    record(ticket, mechanic, "12")
    with pytest.raises(CannotCountersign, match="again since"):
        countersign(record=older, by=second)


@pytest.mark.parametrize("wrong", ["own", "no_time", "nobody", "nothing"])
def test_the_database_holds_it_too(ticket: Ticket, mechanic: User, second: User, wrong: str) -> None:
    made = BoltRecord.objects.filter(pk=record(ticket, mechanic).pk)
    changes: dict[str, dict[str, Any]] = {
        "own": {"countersigned_by": mechanic, "countersigned_at": timezone.now()},
        "no_time": {"countersigned_by": second},
        "nobody": {"countersigned_at": timezone.now()},
        "nothing": {"torque_nm": 0},
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        made.update(**changes[wrong])


# What a ticket shows.


def test_the_bolts_of_a_tickets_steps_with_what_counts(ticket: Ticket, mechanic: User, tool: TorqueTool) -> None:
    axle(ticket)
    step = with_bolts(ticket, "caliper", "axle")
    record(ticket, mechanic, "11", tool=tool)
    latest = record(ticket, mechanic, "12", tool=tool)
    states = bolts_of(ticket)
    assert [state.bolt for state in states] == ["axle", "caliper"]
    assert states[0].record == latest
    assert states[0].wanted.text == "12 N·m ±1"
    assert states[0].steps == (step,)
    assert states[1].record is None
    assert states[1].wanted.number == ""


def test_a_step_that_does_not_apply_brings_no_bolts(ticket: Ticket) -> None:
    with_bolts(ticket, "stem", only_if={"foam_rings": True})
    assert bolts_of(ticket) == []


def test_a_unit_that_is_not_in_the_specs_has_bolts_all_the_same(ticket: Ticket) -> None:
    ticket.unit.model = None
    with_bolts(ticket, "axle")
    assert bolts_of(ticket)[0].wanted.number == ""


def test_rows_for_paper_are_plain_json(ticket: Ticket, mechanic: User, second: User, tool: TorqueTool) -> None:
    axle(ticket)
    with_bolts(ticket, "axle", "stem")
    countersign(record=record(ticket, mechanic, tool=tool), by=second)
    rows = json.loads(json.dumps(bolt_rows(ticket)))
    assert rows[0] | {"at": "", "countersigned_at": ""} == {
        "bolt": "axle", "label": "Axle", "wanted": "12 N·m ±1", "unit": "N·m", "checked": True,
        "source": "Invented manual for tests, A, p. 12", "recorded": "12 N·m", "tool": "TW-1 Small wrench",
        "by": str(mechanic), "at": "", "marks": [], "countersigned_by": str(second), "countersigned_at": "",
    }  # fmt: skip
    assert rows[0]["at"]
    assert rows[0]["countersigned_at"]
    assert (rows[1]["wanted"], rows[1]["recorded"], rows[1]["by"]) == ("", "", "")


def test_queries_do_not_grow_with_steps_and_records(
    ticket: Ticket, mechanic: User, second: User, tool: TorqueTool, django_assert_num_queries: Any
) -> None:
    axle(ticket)
    with_bolts(ticket, "axle")
    loaded = Ticket.objects.with_names().select_related("shop").get(pk=ticket.pk)
    with django_assert_num_queries(4):
        bolts_of(loaded)
    for bolt in ("foot_air_leg", "foot_damper_leg", "caliper", "stem", "axle"):
        with_bolts(ticket, bolt)
        for _ in range(3):
            countersign(
                record=record(ticket, mechanic, "8" if bolt != "axle" else "12", bolt=bolt, tool=tool), by=second
            )
    loaded = Ticket.objects.with_names().select_related("shop").get(pk=ticket.pk)
    with django_assert_num_queries(4):
        assert len(bolt_rows(loaded)) == 5
