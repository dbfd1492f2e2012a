"""Torque tools in the Stores, and a ticket's bolts as the bench shows them."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects, assertTemplateUsed

from tests.factories import (
    BoltRecordFactory,
    ChecklistFactory,
    RunFactory,
    SpecValueFactory,
    StepFactory,
    TicketFactory,
    TicketRunFactory,
    TorqueToolFactory,
    UserFactory,
)
from tests.known import known
from workshop.models import BoltRecord, Ticket, TorqueTool, User

pytestmark = pytest.mark.django_db

HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}
TOOL = {
    "number": "TW-7", "name": "Large wrench", "low_nm": "10", "high_nm": "530 in·lbf", "tool_class": "II-A",
    "calibrated_on": "2026-01-01", "calibrated_until": "2027-01-01",
}  # fmt: skip


@pytest.fixture
def mechanic() -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def bench(client: Client, mechanic: User) -> Client:
    client.force_login(mechanic)
    return client


@pytest.fixture
def ticket(mechanic: User) -> Ticket:
    """On the bench, with a step that tightens axle and stem."""
    ticket = TicketFactory(shop=mechanic.shop, state="on_the_bench", mechanic=mechanic)
    checklist = ChecklistFactory()
    StepFactory(checklist=checklist, key="close-up", kind="work", title="Close up", bolts=["axle", "stem"])
    TicketRunFactory(ticket=ticket, run=RunFactory(checklist=checklist))
    SpecValueFactory(model=ticket.unit.model, quantity="axle_torque", magnitude_si=12.0, tolerance_si=1.0, typed="12")
    return ticket


def sent(**fields: str) -> dict[str, str]:
    return {"client_id": str(uuid.uuid4()), "torque": "12", "tool": ""} | fields


def at(name: str, ticket: Ticket, *more: Any) -> str:
    return reverse(f"stores:{name}", args=[ticket.number, *more])


# Tools.


def test_the_list_says_in_words_what_is_overdue(bench: Client, mechanic: User) -> None:
    TorqueToolFactory(shop=mechanic.shop, number="TW-1", overdue=True)
    TorqueToolFactory(shop=mechanic.shop, number="TW-2", calibrated_until=None)
    TorqueToolFactory(shop=mechanic.shop, number="TW-3", retired=True, overdue=True)
    TorqueToolFactory(number="TW-OTHER")
    response = bench.get(reverse("stores:torque_tools"))
    assertContains(response, "Calibration overdue", count=1)
    assertContains(response, "No calibration on record", count=1)
    assertContains(response, "archived")
    assertContains(response, "2 N·m to 14 N·m")
    assertNotContains(response, "TW-OTHER")


def test_an_empty_list_says_what_to_do(bench: Client) -> None:
    assertContains(bench.get(reverse("stores:torque_tools")), "No torque tools yet")


def test_a_tool_is_added_in_any_unit(bench: Client) -> None:
    response = bench.post(reverse("stores:add_torque_tool"), TOOL)
    assertRedirects(response, reverse("stores:torque_tools"))
    tool = TorqueTool.objects.get()
    assert (tool.number, tool.low_nm) == ("TW-7", 10.0)
    assert tool.high_nm == pytest.approx(530 * 0.1129848290)  # NIST SP 811


@pytest.mark.parametrize(
    ("field", "typed", "reason"),
    [
        ("number", "", "Enter this."),
        ("low_nm", "ten", "Enter a number"),
        ("low_nm", "80", ""),
        ("high_nm", "5", "ends below where it begins"),
        ("calibrated_until", "2025-01-01", "cannot end before"),
        ("calibrated_on", "soon", "Enter a day as 2026-11-30."),
    ],
)
def test_a_tool_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    bench: Client, field: str, typed: str, reason: str
) -> None:
    response = bench.post(reverse("stores:add_torque_tool"), TOOL | {field: typed})
    assertContains(response, reason, status_code=422)
    assert response.context["form"].errors
    assert response.context["form"]["name"].value() == "Large wrench"
    assert not TorqueTool.objects.exists()


def test_a_number_taken_is_said(bench: Client, mechanic: User) -> None:
    TorqueToolFactory(shop=mechanic.shop, number="TW-7")
    assertContains(bench.post(reverse("stores:add_torque_tool"), TOOL), "number already", status_code=422)


def test_a_tool_is_changed_from_what_is_stored(bench: Client, mechanic: User) -> None:
    tool = TorqueToolFactory(shop=mechanic.shop)
    url = reverse("stores:edit_torque_tool", args=[tool.pk])
    page = bench.get(url)
    assertContains(page, f'value="{tool.calibrated_until:%Y-%m-%d}"')
    assertContains(page, 'value="14"')
    assertRedirects(bench.post(url, TOOL | {"seen_version": "1"}), reverse("stores:torque_tools"))
    tool.refresh_from_db()
    assert tool.name == "Large wrench"


def test_a_change_made_meanwhile_shows_both(bench: Client, mechanic: User) -> None:
    tool = TorqueToolFactory(shop=mechanic.shop, name="Theirs", version=2)
    response = bench.post(reverse("stores:edit_torque_tool", args=[tool.pk]), TOOL | {"seen_version": "1"})
    assertContains(response, "Somebody changed this while you were typing", status_code=409)
    assertContains(response, "Theirs", status_code=409)
    assertContains(response, "Large wrench", status_code=409)


def test_a_tool_is_retired_and_used_again(bench: Client, mechanic: User) -> None:
    tool = TorqueToolFactory(shop=mechanic.shop)
    url = reverse("stores:retire_torque_tool", args=[tool.pk])
    bench.post(url, {"seen_version": "1"})
    assert TorqueTool.objects.get().retired
    assertContains(bench.post(url, {"seen_version": "1", "retired": "0"}, follow=True), "changed")
    bench.post(url, {"seen_version": "2", "retired": "0"})
    assert not TorqueTool.objects.get().retired


def test_the_counter_sees_the_tools_and_changes_none(client: Client, mechanic: User) -> None:
    client.force_login(UserFactory(shop=mechanic.shop))
    tool = TorqueToolFactory(shop=mechanic.shop)
    assertNotContains(client.get(reverse("stores:torque_tools")), "retire")
    assert client.get(reverse("stores:edit_torque_tool", args=[tool.pk])).status_code == 403
    assert client.post(reverse("stores:add_torque_tool"), TOOL).status_code == 403


def test_another_shops_tool_is_not_there(bench: Client) -> None:
    tool = TorqueToolFactory()
    assert bench.get(reverse("stores:edit_torque_tool", args=[tool.pk])).status_code == 404
    assert bench.post(reverse("stores:retire_torque_tool", args=[tool.pk]), {"seen_version": "1"}).status_code == 404


def test_the_list_takes_as_many_queries_for_many_tools(
    bench: Client, mechanic: User, django_assert_max_num_queries: Any
) -> None:
    TorqueToolFactory.create_batch(20, shop=mechanic.shop)
    with django_assert_max_num_queries(3):
        bench.get(reverse("stores:torque_tools"))


# Bolts.


def test_the_bolts_of_a_ticket(bench: Client, ticket: Ticket) -> None:
    response = bench.get(at("bolts", ticket))
    assertTemplateUsed(response, "stores/torque_bolts.html")
    assert [shown.state.bolt for shown in response.context["bolts"]] == ["axle", "stem"]
    assertContains(response, "Not recorded", count=2)
    assertContains(response, "not checked against the manual")
    assertContains(response, "see the maker’s manual")


def test_htmx_records_and_gets_the_fragment(bench: Client, ticket: Ticket, mechanic: User) -> None:
    tool = TorqueToolFactory(shop=mechanic.shop, number="TW-1")
    response = bench.post(at("record_bolt", ticket, "axle"), sent(torque="106 in·lbf", tool=str(tool.pk)), **HTMX)
    assertNotContains(response, "<html")
    assertContains(response, "Set to <strong>12 N·m</strong> with TW-1")
    assertContains(response, "a second person must confirm it")
    assert BoltRecord.objects.get().by == mechanic


def test_without_script_it_comes_back_to_the_step(bench: Client, ticket: Ticket) -> None:
    run = ticket.ticket_runs.get().run
    place = {"run": str(run.pk), "step": "close-up"}
    response = bench.post(at("record_bolt", ticket, "axle"), sent(**place))
    assertRedirects(
        response, reverse("bench:step", args=[ticket.number, run.pk, "close-up"]), fetch_redirect_response=False
    )
    record = BoltRecord.objects.get()
    assert (record.run, known(record.step).key) == (run, "close-up")
    response = bench.post(at("record_bolt", ticket, "axle"), sent())
    assertRedirects(response, at("bolts", ticket))


def test_a_step_shows_only_its_own_bolts(bench: Client, ticket: Ticket) -> None:
    run = ticket.ticket_runs.get().run
    StepFactory(checklist=run.checklist, key="stem-only", kind="work", bolts=["stem"])
    asked: dict[str, Any] = {"run": run.pk, "step": "stem-only"}
    response = bench.get(at("bolts", ticket), asked, **HTMX)
    assert [shown.state.bolt for shown in response.context["bolts"]] == ["stem"]
    assertContains(response, '<input type="hidden" name="step" value="stem-only">', html=True)


@pytest.mark.parametrize(
    ("fields", "reason"),
    [
        ({"torque": ""}, "Enter this."),
        ({"torque": "120"}, "Was 12 N·m meant?"),
        ({"torque": "12 psi"}, "not a unit of torque"),
        ({"tool": "99999"}, "not in the list"),
        ({"client_id": "nonsense"}, "Enter a valid UUID"),
    ],
)
@pytest.mark.parametrize("htmx", [True, False])
def test_a_slip_is_shown_beside_its_field_with_what_was_typed(
    bench: Client, ticket: Ticket, fields: dict[str, str], reason: str, htmx: bool
) -> None:
    response = bench.post(at("record_bolt", ticket, "axle"), sent(**fields), **(HTMX if htmx else {}))
    assertContains(response, reason, status_code=422)
    shown = response.context["bolts"][0]
    assert shown.form["torque"].value() == sent(**fields)["torque"]
    assert not BoltRecord.objects.exists()


def test_an_overdue_tool_is_named_so_in_the_list_and_marks_the_bolt(
    bench: Client, ticket: Ticket, mechanic: User
) -> None:
    tool = TorqueToolFactory(shop=mechanic.shop, number="TW-9", overdue=True)
    assertContains(bench.get(at("bolts", ticket)), "calibration overdue")
    response = bench.post(at("record_bolt", ticket, "axle"), sent(tool=str(tool.pk)), **HTMX)
    assertContains(response, "say why it is so all the same", status_code=422)
    assertContains(response, 'name="reason"', status_code=422)
    response = bench.post(
        at("record_bolt", ticket, "axle"), sent(tool=str(tool.pk), reason="the other is away"), **HTMX
    )
    assertContains(response, "ran out on 3 May 2025")
    assertContains(response, "Why all the same: the other is away")


def test_a_second_person_countersigns(bench: Client, ticket: Ticket) -> None:
    record = BoltRecordFactory(ticket=ticket)
    assertContains(bench.get(at("bolts", ticket)), "Record second-person check<span")
    response = bench.post(at("countersign", ticket, record.pk), **HTMX)
    assertContains(response, "Second-person check by")
    assertRedirects(bench.post(at("countersign", ticket, record.pk)), at("bolts", ticket))


def test_nobody_countersigns_their_own(bench: Client, ticket: Ticket, mechanic: User) -> None:
    record = BoltRecordFactory(ticket=ticket, by=mechanic)
    assertNotContains(bench.get(at("bolts", ticket)), "Record second-person check<span")
    response = bench.post(at("countersign", ticket, record.pk), **HTMX)
    assertContains(response, "Whoever tightened a bolt cannot do its second-person check", status_code=422)


def test_the_counter_looks_and_records_nothing(client: Client, ticket: Ticket, mechanic: User) -> None:
    client.force_login(UserFactory(shop=mechanic.shop))
    record = BoltRecordFactory(ticket=ticket)
    response = client.get(at("bolts", ticket))
    assertNotContains(response, "Record second-person check<span")
    assertNotContains(response, "Record<span")
    assert client.post(at("record_bolt", ticket, "axle"), sent()).status_code == 403
    assert client.post(at("countersign", ticket, record.pk)).status_code == 403


def test_what_is_not_there(bench: Client, ticket: Ticket) -> None:
    other = TicketFactory(number=ticket.number + 500)
    elsewhere = BoltRecordFactory(ticket=other)
    assert bench.get(at("bolts", other)).status_code == 404
    assert bench.post(at("countersign", ticket, elsewhere.pk)).status_code == 404
    assert bench.post(at("record_bolt", ticket, "saddle"), sent()).status_code == 404


@pytest.mark.parametrize("run", ["x", "-1", "9" * 30, "٣", "1e5", "999999"])
def test_a_run_that_is_not_the_tickets_is_left_aside(bench: Client, ticket: Ticket, run: str) -> None:
    response = bench.get(at("bolts", ticket), {"run": run, "step": "close-up%"})
    assert response.status_code == 200
    assert response.context["bolts_run"] is None


def test_the_fragment_takes_as_many_queries_for_many_records(
    bench: Client, ticket: Ticket, mechanic: User, django_assert_max_num_queries: Any
) -> None:
    TorqueToolFactory.create_batch(10, shop=mechanic.shop)
    BoltRecordFactory.create_batch(20, ticket=ticket)
    with django_assert_max_num_queries(8):
        bench.get(at("bolts", ticket), **HTMX)
