"""Readings on the tablet: one tap enters what is shown, and what is not as wanted is said at once and asked why."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from diagnosis.layout import step_data
from diagnosis.models import Reading, Run
from diagnosis.runs import start_run
from tests.browser.conftest import CUT_OFF
from tests.factories import (
    ChecklistFactory,
    SpecValueFactory,
    StepFactory,
    TicketFactory,
    TicketRunFactory,
    UserFactory,
)
from tests.shipped import shipped_folder
from workshop.models import Ticket, User

SignIn = Callable[[Page, User], None]
_ML = 1e-6
WHAT_IS_KEPT_COMES_LATE = """() => {
  const [known, read] = [bench.knownOf, new Promise((go) => { window.nowItIsRead = go; })];
  bench.knownOf = async (run) => { await read; return known(run); };
}"""


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def run(mechanic: User) -> Run:
    """A fork of 10 and 15 ml on the bench, at the step that fills both legs."""
    ticket: Ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    for quantity, ml in (("oil_volume_air_leg", 10), ("oil_volume_damper_leg", 15)):
        SpecValueFactory(
            model=ticket.unit.model, quantity=quantity, magnitude_si=ml * _ML, tolerance_si=0.5 * _ML, typed=f"{ml} ml"
        )
    step = next(step for step in shipped_folder().shared_steps if step.key == "oil-in-legs")
    checklist = ChecklistFactory()
    free = {"key": "fill-both", "position": 0, "needs": [], "requires": {}, "only_if": {}}
    StepFactory(checklist=checklist, **{**step_data(step), **free})
    made = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=made)
    return made


def test_as_shown_is_one_tap_and_the_wrong_leg_is_told_and_asked_why(
    tablet: Page, sign_in: SignIn, mechanic: User, run: Run, allowed_problems: list[str]
) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(f"/bench/1047/run/{run.pk}/fill-both/")
    spring, damper = (tablet.locator(f"input[name=reading-oil_{leg}_leg]") for leg in ("air", "damper"))
    why = tablet.locator("input[name=reason-oil_damper_leg]")
    shown = tablet.get_by_role("button", name="As shown: 10 ml")
    box = shown.bounding_box()
    assert box is not None
    assert box["height"] >= 44
    shown.tap()
    expect(spring).to_have_value("10")  # its unit stands beside it
    expect(spring).not_to_be_focused()  # no keyboard comes up
    expect(tablet.locator("#evidence")).to_contain_text("10 ml: within 9.5 ml to 10.5 ml.")

    expect(why).to_be_hidden()
    damper.fill("10")
    damper.blur()
    expect(why).to_be_visible()
    expect(tablet.locator("#evidence")).to_contain_text("Are the legs mixed up?")
    allowed_problems.append("status of 422")
    tablet.evaluate(WHAT_IS_KEPT_COMES_LATE)
    tablet.get_by_role("button", name="Done", exact=True).tap()
    expect(tablet.locator(".reading .field__error")).to_contain_text("say why it is so all the same")
    assert not Reading.objects.exists()
    why.fill("The damper leg is a sealed one")
    tablet.evaluate("nowItIsRead()")
    expect(tablet.locator("#step-form[data-filled]")).to_be_attached()
    expect(why).to_have_value("The damper leg is a sealed one")  # it was typed before what is kept here was read
    tablet.get_by_role("button", name="Done", exact=True).tap()
    tablet.wait_for_url("**/bench/1047/")
    outside = Reading.objects.get(outside=True)
    assert (outside.key, outside.reason) == ("oil_damper_leg", "The damper leg is a sealed one")


def test_without_a_network_a_plain_number_is_compared_on_the_tablet(
    tablet: Page, sign_in: SignIn, mechanic: User, run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems += CUT_OFF
    sign_in(tablet, mechanic)
    tablet.goto(f"/bench/1047/run/{run.pk}/fill-both/")
    field, why = (tablet.locator(f"input[name={kind}-oil_air_leg]") for kind in ("reading", "reason"))
    expect(why).to_be_hidden()
    tablet.context.set_offline(True)
    field.fill("15")
    field.blur()
    expect(why).to_be_visible()
    field.fill("10,2")
    field.blur()
    expect(why).to_be_hidden()
    for typed, is_outside in (
        ("15 ml", True), ("10 ml", False), ("15 cc", True), ("0.5 fl oz", True), ("0,34 fl oz", False), ("1 cl", False),
    ):  # fmt: skip
        field.fill(typed)
        field.blur()
        expect(why).to_be_visible() if is_outside else expect(why).to_be_hidden()
