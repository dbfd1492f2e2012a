"""Many tabs: in rows on a tablet, on a phone behind a button that names the one shown; without script in rows too."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from workshop.models import User

SignIn = Callable[[Page, "User"], None]
OFFICE, STORES = ("/office/staff/", "Office", "Staff"), ("/stores/kits/", "Stores", "Kits")


@pytest.fixture
def owner(transactional_db: None) -> User:
    from tests.factories import UserFactory  # late: Django first

    made: User = UserFactory(owner=True)
    return made


@pytest.mark.parametrize(("address", "area", "shown"), [OFFICE, STORES])
def test_all_tabs_are_in_sight_on_a_tablet(
    tablet: Page, sign_in: SignIn, axe: Callable[..., None], owner: User, address: str, area: str, shown: str
) -> None:
    sign_in(tablet, owner)
    tablet.goto(address)
    tabs = tablet.get_by_role("navigation", name=area, exact=True)
    expect(tabs.get_by_role("link", name=shown, exact=True)).to_have_attribute("aria-current", "page")
    links = tabs.get_by_role("link").all()
    assert len(links) >= 8
    for link in links:
        box = link.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 1024
    expect(tabs.get_by_role("button")).to_be_hidden()
    axe(tablet, ".tabs")


@pytest.mark.parametrize(("address", "area", "shown"), [OFFICE, STORES])
def test_on_a_phone_a_button_names_the_one_shown_and_opens_the_rest(
    phone: Page, sign_in: SignIn, axe: Callable[..., None], owner: User, address: str, area: str, shown: str
) -> None:
    sign_in(phone, owner)
    phone.goto(address)
    tabs = phone.get_by_role("navigation", name=area, exact=True)
    button = tabs.get_by_role("button", name=f"{area}: {shown}", exact=True)
    expect(button).to_have_attribute("aria-expanded", "false")
    expect(tabs.get_by_role("link")).to_have_count(0)
    axe(phone, ".tabs")
    button.focus()
    phone.keyboard.press("Enter")
    expect(button).to_have_attribute("aria-expanded", "true")
    assert tabs.get_by_role("link").count() >= 8
    axe(phone, ".tabs")
    phone.keyboard.press("Tab")
    expect(tabs.get_by_role("link").first).to_be_focused()
    phone.keyboard.press("Escape")
    expect(button).to_be_focused()
    expect(tabs.get_by_role("link")).to_have_count(0)


def test_without_script_a_phone_has_them_in_rows(
    open_screen: Callable[..., Page], sign_in: SignIn, owner: User
) -> None:
    page = open_screen("phone", java_script_enabled=False)
    sign_in(page, owner)
    page.goto("/office/staff/")
    expect(page.get_by_role("navigation", name="Office", exact=True).get_by_role("link")).to_have_count(12)
    width = page.locator(".tabs").bounding_box()
    assert width is not None
    assert width["width"] <= 390
