"""A ticket's bolts on the tablet: recorded and refused without leaving the page, big enough for a glove."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

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
from workshop.models import BoltRecord, Ticket, User

GLOVE_PX = 56


def ticket_of(mechanic: User) -> Ticket:
    ticket: Ticket = TicketFactory(shop=mechanic.shop, state="on_the_bench", mechanic=mechanic)
    checklist = ChecklistFactory()
    StepFactory(checklist=checklist, kind="work", bolts=["axle", "stem"])
    TicketRunFactory(ticket=ticket, run=RunFactory(checklist=checklist))
    SpecValueFactory(model=ticket.unit.model, quantity="axle_torque", magnitude_si=12.0, tolerance_si=1.0, typed="12")
    return ticket


def test_a_bolt_is_recorded_at_the_tablet(
    tablet: Page, sign_in: Callable[..., None], axe: Callable[[Page], None], allowed_problems: list[str]
) -> None:
    allowed_problems += ["status of 422", "Response Status Error Code 422"]
    mechanic = UserFactory(mechanic=True)
    TorqueToolFactory(shop=mechanic.shop, number="TW-9", overdue=True)
    ticket = ticket_of(mechanic)
    sign_in(tablet, mechanic)
    tablet.goto(f"/stores/bolts/{ticket.number}/")
    axe(tablet)
    form = tablet.get_by_role("form", name="Axle")
    form.get_by_label("Set to").fill("120")
    form.get_by_role("button", name="Record").click()
    expect(form.get_by_text("Was 12 N·m meant?")).to_be_visible()
    expect(form.get_by_label("Set to")).to_have_value("120")
    axe(tablet)
    form.get_by_label("Set to").fill("12")
    form.get_by_label("Tool").select_option(label="TW-9 Small wrench, 2 N·m to 14 N·m – calibration overdue")
    form.get_by_role("button", name="Record").click()
    form.get_by_label("Why it is so all the same").fill("The other wrench is away for calibration")
    axe(tablet)
    form.get_by_role("button", name="Record").click()
    expect(
        tablet.get_by_role("button", name="Record second-person check Axle")
        .or_(tablet.get_by_text("The other wrench is away"))
        .first
    ).to_be_visible()
    expect(tablet.get_by_text("ran out on 3 May 2025").first).to_be_visible()
    axe(tablet)
    assert BoltRecord.objects.get().torque_nm == 12


def test_a_second_person_countersigns_with_a_glove(tablet: Page, sign_in: Callable[..., None]) -> None:
    mechanic = UserFactory(mechanic=True)
    ticket = ticket_of(mechanic)
    BoltRecordFactory(ticket=ticket)
    sign_in(tablet, mechanic)
    tablet.goto(f"/stores/bolts/{ticket.number}/")
    for target in tablet.locator("#bolts :is(button, select, input:not([type=hidden]))").all():
        if target.is_visible():
            box = target.bounding_box()
            assert box is not None
            assert box["height"] >= GLOVE_PX, target.inner_text()
    tablet.get_by_role("button", name="Record second-person check Axle").click()
    expect(tablet.get_by_text("Second-person check by")).to_be_visible()


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["desktop", "phone"])
def test_the_list_of_tools_is_accessible_and_fits(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], axe: Callable[[Page], None], screen: str
) -> None:
    owner = UserFactory(owner=True)
    TorqueToolFactory(shop=owner.shop, overdue=True)
    TorqueToolFactory(shop=owner.shop, retired=True)
    page = open_screen(screen)
    sign_in(page, owner)
    for address in ("/stores/torque-tools/", "/stores/torque-tools/add/"):
        page.goto(address)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
