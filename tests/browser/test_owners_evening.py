"""The owner's evening in the browser: figures and the tickets behind them, reminders, and every screen."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.utils import timezone
from playwright.sync_api import Page, expect

from tests import factories
from tests.known import known
from tests.workshop.office.figures.test_figure_screens import job
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.intervals.models import WeeklyHours
from workshop.models import Message, SuspensionUnit, User
from workshop.office.figures.registry import FIGURES

SignIn = Callable[[Page, User], None]
SCREENS = ["desktop", "phone"]


@pytest.fixture
def owner(transactional_db: None) -> User:
    import scipy.stats  # noqa: F401  the first figure to need it loads it, which is not what is waited for here

    return factories.UserFactory.create(owner=True)


def worn_fork(owner: User) -> SuspensionUnit:
    """A fork whose wipers were found bad again and again, so that there is a curve to draw."""
    unit: SuspensionUnit = factories.SuspensionUnitFactory.create(
        shop=owner.shop, customer=factories.CustomerFactory.create(shop=owner.shop, name="Petra Quennell")
    )
    since = timezone.localdate() - dt.timedelta(days=800)
    WeeklyHours.objects.create(unit=unit, hours_per_week=3.5, since=since, at=timezone.now())
    for days_ago in (700, 600, 480, 390, 300, 190, 120):
        job(
            known(owner.shop),
            days_ago=days_ago,
            unit=unit,
            cause="wiper-worn",
            part_role="wiper",
            complaint="Oil at the seals",
        )
    job(known(owner.shop), days_ago=30, took=9)
    return unit


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


@pytest.mark.parametrize("screen", SCREENS)
def test_figures_are_read_and_the_tickets_behind_one_opened(
    open_screen: Callable[..., Page],
    sign_in: SignIn,
    owner: User,
    screen: str,
    tmp_path: Path,
    allowed_problems: list[str],
) -> None:
    allowed_problems.append("status of 422")
    worn_fork(owner)
    page = open_screen(screen)
    sign_in(page, owner)
    page.goto("/office/")
    if screen == "phone":
        page.get_by_role("button", name="Office: Overview").click()
    page.get_by_role("link", name="Reports").click()
    page.get_by_role("link", name="Promises kept").click()
    page.get_by_role("link", name="Two years").click()
    expect(page.get_by_text("7 of 8 promises were kept, 88 %.")).to_be_visible()
    expect(page.get_by_role("img", name=re.compile("Promises kept and overdue by month"))).to_be_visible()
    page.get_by_role("row", name=re.compile("^Total")).get_by_role("link", name=re.compile("Overdue")).click()
    expect(page.get_by_text("Overdue: 1 ticket")).to_be_visible()
    page.get_by_role("row").get_by_role("link").first.click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/"))
    page.go_back()
    page.get_by_role("link", name="Promises kept").click()
    expect(page.get_by_text("7 of 8 promises were kept, 88 %.")).to_be_visible()  # the period was kept on the way

    page.get_by_label("To (inclusive)").fill("2020-01-01")
    page.get_by_role("button", name="Show").click()
    expect(page.locator(".field__error")).to_contain_text("This day is before the first one.")
    expect(page.get_by_label("To (inclusive)")).to_have_value("2020-01-01")

    page.goto("/office/figures/service-life/")
    expect(page.get_by_text(re.compile("Half were bad by about"))).to_be_visible()
    page.get_by_text("The steps in numbers").first.click()
    expect(page.get_by_role("region", name="Wipers").get_by_role("row")).to_have_count(4)
    with page.expect_download() as coming:
        page.get_by_role("link", name="Tables as CSV").click()
    coming.value.save_as(tmp_path / "life.csv")
    rows = list(csv.reader(io.StringIO((tmp_path / "life.csv").read_text(encoding="utf-8-sig"))))
    assert ["Wipers", "6", "1", "0"] in [row[:4] for row in rows]


@pytest.mark.parametrize("screen", SCREENS)
def test_reminders_are_read_changed_and_sent(
    open_screen: Callable[..., Page], sign_in: SignIn, owner: User, screen: str
) -> None:
    due_unit(known(owner.shop), name="Ines Ferreira", email="ines@example.org")
    due_unit(known(owner.shop), name="Bram Ashdown", email="bram@example.org")
    due_unit(known(owner.shop), name="Kofi Okafor", agreed=False)
    page = open_screen(screen)
    sign_in(page, owner)
    page.goto("/office/reminders/")
    expect(page.get_by_text("Kofi Okafor")).to_have_count(0)
    page.get_by_role("link", name="of Ines Ferreira: read and send").click()
    page.get_by_label("Subject").fill("Your fork, Ines")
    page.get_by_role("button", name="Send").click()
    expect(page.get_by_text("The reminder for Ines Ferreira is queued.")).to_be_visible()
    page.goto("/office/reminders/")
    page.get_by_label("Send to Bram Ashdown").check()
    page.get_by_role("button", name="Send selected").click()
    expect(page.get_by_text("One queued.")).to_be_visible()
    page.get_by_role("button", name="Send them").click()
    expect(page.get_by_text("All sent")).to_be_visible()
    assert {address for sent in mail.outbox for address in sent.to} == {"ines@example.org", "bram@example.org"}
    assert "Your fork, Ines" in [sent.subject for sent in mail.outbox]
    assert set(Message.objects.values_list("state", flat=True)) == {Message.State.SENT}
    page.goto("/office/reminders/")
    expect(page.get_by_text("Nobody to remind")).to_be_visible()
    assert fits(page)


@pytest.mark.any_database
@pytest.mark.parametrize("screen", SCREENS)
def test_every_screen_of_the_office_is_accessible_and_fits(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Callable[[Page], None], owner: User, screen: str
) -> None:
    unit = worn_fork(owner)
    factories.TicketFactory.create(shop=owner.shop, promised_on=timezone.localdate() - dt.timedelta(days=2))
    due = due_unit(known(owner.shop), email="ines@example.org")
    message = queued(due_unit(known(owner.shop), email="bram@example.org"))
    page = open_screen(screen)
    sign_in(page, owner)
    behind = "/office/figures/promises/tickets/?table=promises&row=all&column=1"
    for address in (
        "/office/", "/office/figures/", *(f"/office/figures/{key}/" for key in FIGURES), behind,
        "/office/reminders/", "/office/reminders/?who=all", f"/office/reminders/unit/{due.pk}/",
        "/office/reminders/sent/", f"/office/reminders/sent/{message.pk}/", "/office/reminders/wording/",
        "/office/reminders/figures/",
        f"/intervals/unit/{unit.pk}/", f"/intervals/unit/{unit.pk}/rule/lowers/",
        "/office/privacy/", "/office/prices/", "/office/hours/", "/office/staff/", "/office/shop/",
    ):  # fmt: skip
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == 200, address
        axe(page)
        assert fits(page), address
        assert page.locator("h1").count() == 1, address


@pytest.mark.any_database
def test_a_period_to_put_right_is_accessible(
    desktop: Page, sign_in: SignIn, axe: Callable[[Page], None], owner: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 422")
    sign_in(desktop, owner)
    desktop.goto("/office/figures/turnaround/?first=2026-02-30&last=")
    expect(desktop.get_by_role("alert")).to_be_visible()
    axe(desktop)


def test_figures_work_without_script(open_screen: Callable[..., Page], sign_in: SignIn, owner: User) -> None:
    job(known(owner.shop))
    page: Any = open_screen("desktop", java_script_enabled=False)
    sign_in(page, owner)
    page.goto("/office/figures/turnaround/")
    page.get_by_role("link", name="Three months").click()
    expect(page.get_by_text("Half of the tickets were ready within 4.0 days")).to_be_visible()
