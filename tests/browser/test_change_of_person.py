"""A change of person at a shared tablet: by touch, and what the former has not sent stays theirs."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from tests.browser.waiting import until
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.models import User
from workshop.staff.devices import COOKIE
from workshop.staff.quick_codes import set_code

ORRIN, LINNET = "7391", "4826"


@pytest.fixture
def orrin(transactional_db: None) -> User:
    made = UserFactory(mechanic=True, first_name="Orrin", last_name="Kettlebeck")
    set_code(user=made, code=ORRIN)
    return made


@pytest.fixture
def linnet(orrin: User) -> User:
    made = UserFactory(shop=orrin.shop, roles="counter mechanic", first_name="Linnet", last_name="Sallowfen")
    set_code(user=made, code=LINNET)
    return made


@pytest.fixture
def run(orrin: User) -> Run:
    ticket = TicketFactory(shop=orrin.shop, number=1047, state="on_the_bench", mechanic=orrin)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=orrin)
    TicketRunFactory(ticket=ticket, run=run)
    return run


@pytest.fixture
def let_in(tablet: Page, live_server: Any, orrin: User) -> Page:
    """The tablet, let in by an owner, with nobody signed in."""
    office = Client()
    office.force_login(UserFactory(shop=orrin.shop, owner=True))
    office.post(reverse("office:devices"), {"name": "Bench tablet"})
    cookie = {"name": COOKIE, "value": office.cookies[COOKIE].value, "url": live_server.url, "httpOnly": True}
    tablet.context.add_cookies([cookie])  # type: ignore[list-item]
    return tablet


def change_to(page: Page, user: User, code: str) -> None:
    page.goto("/person/")
    page.get_by_role("radio", name=str(user)).check()
    page.get_by_label("Your short code").fill(code)
    page.get_by_role("button", name="Go on as this person").click()


def whose(page: Page) -> str:
    """The name at the top of the page, which can be seen."""
    name = page.locator(".board__name")
    expect(name).to_be_in_viewport()
    return name.inner_text().strip().splitlines()[-1].strip()


def test_what_one_has_not_sent_is_never_sent_under_the_others_name(
    let_in: Page, axe: Callable[..., None], allowed_problems: list[str], run: Run, orrin: User, linnet: User
) -> None:
    allowed_problems += ["ERR_FAILED", "Failed to fetch", "status of 401", "Status Error Code 401", "status of 422"]
    tablet, ticks = let_in, re.compile(r"/bench/1047/run/")
    change_to(tablet, orrin, LINNET)
    expect(tablet.get_by_role("alert")).to_contain_text("That is not the code of Orrin Kettlebeck. Try again.")
    axe(tablet)
    change_to(tablet, orrin, ORRIN)
    expect(tablet).to_have_url(re.compile("/bench/$"))
    assert whose(tablet) == "Orrin"

    tablet.goto(f"/bench/1047/run/{run.pk}/record-arrival/")
    tablet.context.route(ticks, lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    tablet.get_by_role("textbox", name=re.compile("^Rest depth as it came in(?!: why)")).fill("28")
    tablet.get_by_role("group", name="Answer").get_by_role("button", name="Done").click()
    expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")

    other_tab = tablet.context.new_page()
    other_tab.goto("/person/")
    expect(other_tab.locator("#unsent-here")).to_contain_text("1 of yours not sent yet")
    change_to(other_tab, linnet, LINNET)
    expect(other_tab).not_to_have_url(re.compile("/person/"))
    assert whose(other_tab) == "Linnet"

    tablet.context.unroute(ticks)
    with tablet.expect_response(lambda answer: answer.request.method == "POST") as answered:
        tablet.evaluate("() => { bench.send(); }")
    assert answered.value.status == 401
    expect(tablet.locator("#unsent")).to_contain_text("signed out")
    assert not Tick.objects.exists()

    other_tab.goto("/bench/")
    expect(other_tab.locator("#unsent")).to_contain_text("1 of somebody else wait here until they sign in")
    assert not Tick.objects.exists()
    for width, height in ((1024, 768), (390, 844)):
        other_tab.set_viewport_size({"width": width, "height": height})
        assert whose(other_tab) == "Linnet"
        expect(other_tab.get_by_role("link", name="Change person")).to_be_in_viewport()
        until(other_tab, lambda: other_tab.evaluate("document.documentElement.scrollWidth <= window.innerWidth"))
    axe(other_tab)

    change_to(other_tab, orrin, ORRIN)
    expect(other_tab).to_have_url(re.compile("/bench/$"))
    until(other_tab, Tick.objects.exists)
    expect(other_tab.locator("#unsent")).to_be_hidden()
    assert known(Tick.objects.get().by).pk == orrin.pk
