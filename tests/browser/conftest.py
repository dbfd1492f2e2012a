"""Headless Chromium in the tests: pages of the three screens of the shop, signing in, and axe.

`desktop`, `tablet` and `phone` are pages of a live server. A test that uses one fails on any error in the console,
on any script error and on any request to another host, also where its own asserts pass.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.conf import settings as shop_settings
from django.test import Client
from playwright.sync_api import Browser, Page, expect, sync_playwright

from workshop.system_packages import browser as path_of_browser
from workshop.system_packages import missing, to_type

if TYPE_CHECKING:
    from workshop.models import User

SCREENS: dict[str, dict[str, Any]] = {
    "desktop": {"viewport": {"width": 1366, "height": 768}},
    "tablet": {"viewport": {"width": 1024, "height": 768}, "has_touch": True},
    "phone": {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True},
}
CHROMIUM_SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost",
]
# htmx logs a search that a newer one replaced, which is meant; one that failed also logs sendError or timeout.
# What a browser says of a network that a test has taken away, with the page's worker between or without it.
CUT_OFF = ["ERR_INTERNET_DISCONNECTED", "ERR_FAILED", "htmx:sendError", "Failed to fetch"]
HARMLESS = ("htmx:sendAbort", "htmx:afterRequest")
PATIENCE_MS = 60_000  # of every look and every press: a busy machine is slow, which is no fault of the page
# Axe takes what lies half beneath the pinned answers for half a target: it is looked at again where it scrolls clear.
SCROLLED_CLEAR = """async ([target, options]) => {
  const [from, one] = [window.scrollY, document.querySelector(target)];
  one.scrollIntoView({ block: "center" });
  const { violations } = await axe.run(one, { ...options, runOnly: ["target-size"] });
  window.scrollTo(0, from);
  return violations.length === 0;
}"""
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker("browser")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = path_of_browser()
    if path is None:
        (pytest.fail if os.environ.get("CI") else pytest.skip)(
            f"No browser. As root: {to_type(['chromium-headless-shell'])}"
        )
    if "libatomic1" in missing("tests"):
        (pytest.fail if os.environ.get("CI") else pytest.skip)(f"No browser driver. As root: {to_type(['libatomic1'])}")
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        # Playwright keeps an event loop in this thread, from which Django would refuse to query the database.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        expect.set_options(timeout=PATIENCE_MS)
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM_SWITCHES)
        yield browser
        browser.close()


@pytest.fixture
def allowed_problems() -> list[str]:
    """Append a part of a console message that a test provokes on purpose, such as "status of 422"."""
    return []


@pytest.fixture
def open_screen(
    chromium: Browser, live_server: Any, transactional_db: None, allowed_problems: list[str]
) -> Iterator[Callable[..., Page]]:
    """Open a page of a screen, in a browser profile of its own: `open_screen("tablet", java_script_enabled=False)`."""
    problems: list[str] = []
    contexts = []

    def watch(page: Page) -> None:
        page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: problems.append(str(error)))

    def watch_address(address: str) -> None:
        parts = urlsplit(address)
        if parts.scheme in {"http", "https", "ws", "wss"} and parts.netloc != urlsplit(live_server.url).netloc:
            problems.append(f"asked another host: {address}")

    def open_page(screen: str, **options: Any) -> Page:
        context = chromium.new_context(
            base_url=live_server.url, reduced_motion="reduce", locale="en-GB", **(SCREENS[screen] | options)
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        context.on("page", watch)
        context.on("request", lambda request: watch_address(request.url))
        return context.new_page()

    yield open_page
    for context in contexts:
        context.close()
    unexpected = [
        problem for problem in problems if not any(part in problem for part in (*HARMLESS, *allowed_problems))
    ]
    assert not unexpected, "The browser complained:\n" + "\n".join(unexpected)


@pytest.fixture
def desktop(open_screen: Callable[..., Page]) -> Page:
    return open_screen("desktop")


@pytest.fixture
def tablet(open_screen: Callable[..., Page]) -> Page:
    return open_screen("tablet")


@pytest.fixture
def phone(open_screen: Callable[..., Page]) -> Page:
    return open_screen("phone")


@pytest.fixture
def sign_in(live_server: Any) -> Callable[[Page, User], None]:
    """Sign somebody in, without the form: `sign_in(page, user)`."""

    def give_session(page: Page, user: User) -> None:
        client = Client()
        client.force_login(user)
        name = shop_settings.SESSION_COOKIE_NAME
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])

    return give_session


@pytest.fixture
def people(transactional_db: None) -> dict[str, User]:
    """A counter clerk, a mechanic and the owner of one shop that has the demo's fork models and spec values."""
    from tests.factories import ShopFactory, UserFactory  # late: this file is read before Django is
    from workshop.demo.specs_data import load_demo_specs

    shop = ShopFactory(is_demo=True, public_address="")  # its links open on this machine
    people = {
        "counter": UserFactory(shop=shop),
        "mechanic": UserFactory(shop=shop, mechanic=True),
        "owner": UserFactory(shop=shop, owner=True),
    }
    load_demo_specs(entered_by=people["mechanic"], checked_by=people["owner"])
    return people


@pytest.fixture
def axe() -> Callable[..., None]:
    """Fail with what breaks WCAG 2.2 AA or best practice on a page as it is now: `axe(page)`, `axe(page, "#main")`."""

    def check(page: Page, within: str | None = None) -> None:
        page.evaluate(AXE_SCRIPT)
        run = "([within, options]) => axe.run(within || document, options)"
        options = {"runOnly": AXE_TAGS, "rules": {"target-size": {"enabled": True}}, "resultTypes": ["violations"]}
        violations = page.evaluate(run, [within, options])["violations"]
        lines = [
            f"{broken['id']} ({broken['impact']}): {broken['help']}\n    {node['html']}\n    {node['failureSummary']}"
            for broken in violations
            for node in broken["nodes"]
            if broken["id"] != "target-size" or not page.evaluate(SCROLLED_CLEAR, [node["target"][0], options])
        ]
        assert not lines, f"{page.url} breaks WCAG 2.2 or best practice:\n" + "\n".join(lines)

    return check
