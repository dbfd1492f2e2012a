"""Calculators in a browser: worked out while typing, kept in the address, without script, on each screen."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.waiting import held_back, until
from tests.factories import OilFactory, UserFactory

pytestmark = pytest.mark.any_database  # a sum asks it for nothing but who is signed in, and an oil

ANSWERED = {
    "units": "?value=82+psi",
    "torque": "?torque=20&thread=M8&wrench=300&extension=50&tool_max=60",
    "o-rings": "?inside=10.8&section=2.6&groove_diameter=11&depth=2.2&width=3.4",
    "oils": "?kv40=32&kv100=5.4&mix_with=Fen+Oil&share=50",
    "sag": "?travel=150&wanted_sag=20&measured_sag=26&pressure=82&trail_altitude=2000",
    "shock": "?wheel_travel=150&stroke=60&rider_mass=80&rear_share=60&wanted_sag=30&rate=65&preload=2",
    "pump": "?pressure=82&hose=3&chamber=180&to_altitude=2000",
}


@pytest.mark.parametrize("screen", ["desktop", "phone"])
@pytest.mark.parametrize("key", ANSWERED)
def test_a_sum_is_accessible_and_fits(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[[Page], None],
    screen: str,
    key: str,
) -> None:
    OilFactory(name="Fen Oil")
    page = open_screen(screen)
    sign_in(page, UserFactory(owner=True))
    page.goto(f"/sums/{key}/")
    axe(page)
    page.goto(f"/sums/{key}/{ANSWERED[key]}")
    expect(page.locator("#answer .sum-words")).to_be_visible()
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("screen", ["desktop", "phone"])
def test_an_error_is_accessible(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], axe: Callable[[Page], None], screen: str
) -> None:
    page = open_screen(screen)
    sign_in(page, UserFactory())
    page.goto("/sums/torque/?torque=80&thread=M6")
    expect(page.get_by_label("Torque at the bolt")).to_have_attribute("aria-invalid", "true")
    axe(page)


def test_the_answer_comes_while_typing_and_the_address_keeps_it(desktop: Page, sign_in: Callable[..., None]) -> None:
    sign_in(desktop, UserFactory(mechanic=True))
    desktop.goto("/sums/torque/")
    answer = desktop.locator("#answer")
    desktop.get_by_label("Torque at the bolt").fill("30")
    desktop.keyboard.press("Tab")
    expect(answer).to_contain_text("nothing to correct")
    desktop.get_by_label("Extension, drive to bolt").fill("50")
    desktop.keyboard.press("Tab")
    expect(answer).to_contain_text("Still needed")
    expect(desktop.locator(".field__error")).to_have_count(0)
    desktop.get_by_label("Wrench, grip to drive").fill("300")
    desktop.keyboard.press("Tab")
    expect(answer).to_contain_text("Set the wrench to 25.7 N·m")
    expect(desktop).to_have_url(re.compile("torque=30.*wrench=300.*extension=50"))
    desktop.reload()
    expect(answer).to_contain_text("Set the wrench to 25.7 N·m")
    expect(desktop.get_by_label("Wrench, grip to drive")).to_have_value("300")


def test_an_error_comes_and_goes_beside_its_field_and_the_focus_stays(
    desktop: Page, sign_in: Callable[..., None], allowed_problems: list[str]
) -> None:
    # a change made while an answer is on its way takes its place; htmx writes that to the console
    allowed_problems += ["htmx:afterRequest", "htmx:sendAbort"]
    sign_in(desktop, UserFactory(mechanic=True))
    desktop.goto("/sums/torque/")
    desktop.get_by_label("Torque at the bolt").fill("80")
    desktop.get_by_label("Bolt size").select_option("M6")
    desktop.keyboard.press("Tab")
    error = desktop.locator("#place-torque .field__error")
    expect(error).to_contain_text("Was 8 N·m")
    desktop.get_by_label("Torque at the bolt").fill("8")
    desktop.keyboard.press("Tab")
    expect(error).to_have_count(0)
    expect(desktop.get_by_label("Bolt size")).to_be_focused()


def test_what_is_being_typed_survives_an_answer(desktop: Page, sign_in: Callable[..., None]) -> None:
    sign_in(desktop, UserFactory(mechanic=True))
    desktop.goto("/sums/torque/")
    held = held_back(desktop, "**/sums/torque/?*")
    desktop.get_by_label("Torque at the bolt").fill("30")
    desktop.get_by_label("Wrench, grip to drive").press_sequentially("30")
    until(desktop, lambda: held)
    held[0].continue_()
    expect(desktop.locator("#answer")).to_contain_text("nothing to correct")
    desktop.keyboard.type("0")
    expect(desktop.get_by_label("Wrench, grip to drive")).to_have_value("300")


def test_it_works_without_script(open_screen: Callable[..., Page], sign_in: Callable[..., None]) -> None:
    page = open_screen("phone", java_script_enabled=False)
    sign_in(page, UserFactory())
    page.goto("/sums/")
    page.get_by_role("link", name=re.compile("^Units")).last.click()
    page.get_by_label("Value with its unit").fill("82 psi")
    page.get_by_role("button", name="Calculate").click()
    expect(page.locator("#answer")).to_contain_text("5.6537 bar")
    expect(page.get_by_label("Value with its unit")).to_have_value("82 psi")
