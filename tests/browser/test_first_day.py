"""The owner's first day in the browser: the set-up guide and its pages; and the overview at its fullest."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from tests.browser.waiting import until
from tests.factories import ShopFactory, UserFactory
from tests.known import known
from tests.workshop.office.test_to_see_to import everything
from workshop.models import User
from workshop.staff.opening import open_shop

SignIn = Callable[[Page, User], None]
FARTHEST_RIGHT = (
    "Math.max(...[...document.querySelectorAll('.to-see .button')].map((one) => one.getBoundingClientRect().right))"
)
LAST_LINE = (
    "Math.max(...[...document.querySelectorAll('.to-see__thing')].map((one) => one.getBoundingClientRect().bottom))"
)


@pytest.mark.any_database
def test_the_guide_leads_through_the_shop_and_says_what_is_left(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Callable[..., None], transactional_db: None
) -> None:
    """Its time zone is the browser's at a press, and never by itself over what was typed."""
    owner, _ = open_shop(name="Mill Yard", owner="ines")
    User.objects.filter(pk=owner.pk).update(must_change_password=False)
    page = open_screen("tablet", timezone_id="Europe/Dublin")
    sign_in(page, owner)
    page.goto(reverse("home"))
    expect(page.get_by_role("heading", name="Set up your shop")).to_be_visible()
    steps = page.get_by_role("list", name="Still to do").locator("> li")
    before = steps.count()
    axe(page)
    page.get_by_role("button", name="Later Tablets").click()
    expect(page.get_by_role("button", name="Open Tablets")).to_be_visible()
    expect(steps).to_have_count(before - 1)

    page.get_by_role("link", name="Its time zone").click()
    field = page.get_by_label("Time zone")
    field.fill("Europe/Paris")
    guess = page.get_by_role("button", name="Use it")
    expect(guess).to_be_visible()
    expect(field).to_have_value("Europe/Paris")
    guess.click()
    expect(field).to_have_value("Europe/Dublin")
    expect(guess).to_be_hidden()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("The shop’s settings are saved.")).to_be_visible()
    for route in ("office:mail", "office:backups"):
        page.goto(reverse(route))
        axe(page)
    page.goto(reverse("office:set_up"))
    expect(page.get_by_role("link", name="Its time zone")).to_have_count(0)
    expect(page.get_by_role("link", name="Its country")).to_be_visible()


@pytest.mark.any_database
def test_the_fullest_overview_fits_the_first_screen(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Callable[..., None], transactional_db: None, settings: Any,
    tmp_path: Path,
) -> None:  # fmt: skip
    """Eleven kinds of trouble at once, at 1024x768; on a phone nothing stands out at the side."""
    settings.BACKUP_DIR = tmp_path / "backups"
    owner = UserFactory.create(shop=ShopFactory.create(), owner=True)
    everything(known(owner.shop))
    page = open_screen("tablet", viewport={"width": 1024, "height": 768})
    sign_in(page, owner)
    page.goto(reverse("office:overview"))
    expect(page.locator(".to-see__thing")).to_have_count(11)
    page.evaluate("document.fonts.ready")  # another font has other lines
    assert page.evaluate(LAST_LINE) <= 768
    axe(page)
    page.locator("#parts summary").click()
    expect(page.locator("#parts .to-see__rows li").first).to_be_visible()
    page.set_viewport_size({"width": 390, "height": 844})
    # The window takes a moment to be as narrow as it was told to be.
    until(page, lambda: page.evaluate("document.documentElement.scrollWidth") <= 390)
    assert page.evaluate(FARTHEST_RIGHT) <= 390
