"""The second factor on a screen: set up, recovery codes, the second step, each without an accessibility problem."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from tests.factories import PASSWORD, UserFactory
from workshop.models import User
from workshop.staff.one_time_codes import code_at, step_at

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True), pytest.mark.any_database]


def test_setting_up_and_signing_in(
    live_server: LiveServer, phone: Page, sign_in: Callable[..., None], axe: Callable[..., None]
) -> None:
    owner: User = UserFactory(owner=True, with_password=True)
    sign_in(phone, owner)
    phone.goto(live_server.url + reverse("second_factor"))
    axe(phone)
    key = phone.locator("code").inner_text().replace(" ", "")
    step = step_at(time.time())
    phone.get_by_label("Code", exact=True).fill(code_at(key, step))
    phone.get_by_label("Your password").fill(PASSWORD)
    phone.get_by_role("button", name="Turn it on").click()
    expect(phone.get_by_role("heading", name="Your second factor is on")).to_be_visible()
    axe(phone)
    phone.get_by_role("button", name="Sign out").click()
    phone.get_by_label("Sign-in name").fill(owner.username)
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").click()
    expect(phone.get_by_role("heading", name="Code of your phone")).to_be_visible()
    axe(phone)
    # The code of setting up is used; the phone's next one counts, as its clock may be a step ahead.
    next_step = max(step, step_at(time.time())) + (1 if step_at(time.time()) == step else 0)
    phone.get_by_label("Code", exact=True).fill(code_at(key, next_step))
    phone.get_by_role("button", name="Sign in").click()
    expect(phone).to_have_url(live_server.url + reverse("office:overview"))
