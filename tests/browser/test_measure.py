"""A fork measured at the bench, in a browser: accessible, fits each screen, what was typed stays where it is wrong."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests import factories
from tests.measured_fork import lines, with_drawing
from workshop.models import Ticket


@pytest.fixture
def ticket(transactional_db: None) -> Ticket:
    shop = factories.ShopFactory()
    unit = factories.SuspensionUnitFactory(shop=shop, travel_m=0.160)
    with_drawing(unit)
    return factories.TicketFactory(shop=shop, unit=unit, state="on_the_bench")


@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_a_fork_is_measured_put_right_and_taken_over(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[[Page], None],
    allowed_problems: list[str],
    ticket: Ticket,
    screen: str,
) -> None:
    allowed_problems.append("status of 422")
    page = open_screen(screen)
    sign_in(page, factories.UserFactory(shop=ticket.shop, mechanic=True))
    page.goto(f"/bench/{ticket.number}/measure/")
    axe(page)
    field = page.get_by_label("Readings, one a line")
    wrong = lines() + "60; 20; 170; 500; in\n"
    field.fill(wrong)
    page.get_by_role("button", name="Fit the readings").click()
    expect(page.locator("#id_lines_error")).to_contain_text("Line 68: 170 mm is deeper than this fork goes")
    expect(field).to_have_value(wrong)
    axe(page)
    field.fill(lines())
    page.get_by_role("button", name="Fit the readings").click()
    expect(page.get_by_role("heading", name="What was measured")).to_be_visible()
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.get_by_role("button", name="Calculate this fork with it").click()
    expect(page.locator("main")).to_contain_text("not checked by a second person yet")
