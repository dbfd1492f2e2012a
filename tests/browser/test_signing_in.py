"""Signing in as people do: by keyboard, on each screen, and again after the session ended."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import Page, expect

from tests.factories import PASSWORD, UserFactory


def fill_and_send(page: Page, username: str, password: str) -> None:
    page.get_by_label("Sign-in name").fill(username)
    page.get_by_label("Password").fill(password)
    page.keyboard.press("Enter")


@pytest.mark.parametrize("screen", ["desktop", "tablet", "phone"])
def test_the_sign_in_page_is_accessible_and_fits(
    open_screen: Callable[[str], Page], axe: Callable[[Page], None], screen: str
) -> None:
    page = open_screen(screen)
    page.goto("/sign-in/")
    axe(page)
    fill_and_send(page, "nobody", "wrong")
    expect(page.get_by_role("alert")).to_contain_text("do not go together")
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_first_password_is_changed_by_keyboard_alone(desktop: Page, axe: Callable[[Page], None]) -> None:
    user = UserFactory(with_password=True, must_change_password=True)
    desktop.goto("/sign-in/")
    expect(desktop.get_by_label("Sign-in name")).to_be_focused()
    desktop.keyboard.type(user.username)
    desktop.keyboard.press("Tab")
    desktop.keyboard.type(PASSWORD)
    desktop.keyboard.press("Enter")
    expect(desktop).to_have_url(re.compile("/password/$"))
    axe(desktop)
    for text in (PASSWORD, "three forks on a green wall", "three forks on a green wall"):
        desktop.keyboard.type(text)
        desktop.keyboard.press("Tab")
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_text("Your new password is set.")).to_be_visible()


def test_a_form_filled_in_before_signing_in_again_still_goes_through(
    desktop: Page, sign_in: Callable[..., None], allowed_problems: list[str]
) -> None:
    """The session ends, the form is refused, the user signs in in another tab, goes back and sends it again."""
    allowed_problems.append("status of 401")
    user = UserFactory(with_password=True)
    sign_in(desktop, user)
    desktop.goto("/password/")
    desktop.get_by_label("Old password").fill(PASSWORD)
    desktop.get_by_label(re.compile("^New password$")).fill("three forks on a green wall")
    desktop.get_by_label(re.compile("confirmation")).fill("three forks on a green wall")
    Session.objects.all().delete()

    other_tab = desktop.context.new_page()
    other_tab.goto("/sign-in/")
    fill_and_send(other_tab, user.username, PASSWORD)
    expect(other_tab).not_to_have_url(re.compile("/sign-in/"))

    desktop.get_by_role("button", name="Set this password").click()
    expect(desktop.get_by_text("Your new password is set.")).to_be_visible()


def test_axe_and_the_watch_on_the_console_can_fail(
    desktop: Page, axe: Callable[[Page], None], allowed_problems: list[str]
) -> None:
    allowed_problems.append("Refused to execute inline")
    allowed_problems.append("Content Security Policy")
    desktop.goto("/sign-in/")
    desktop.evaluate("document.querySelector('label').remove()")
    with pytest.raises(AssertionError, match="label"):
        axe(desktop)
