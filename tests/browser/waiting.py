"""Waiting for what was seen from here, not for a time: a busy machine takes longer, and a quick one need not wait."""

from __future__ import annotations

import time
from collections.abc import Callable

from playwright.sync_api import Page, Route

from tests.browser.conftest import PATIENCE_MS


def until(page: Page, came: Callable[[], object]) -> None:
    """Look again and again, meanwhile hearing from the browser."""
    end = time.monotonic() + PATIENCE_MS / 1000
    while not came():
        assert time.monotonic() < end, "It never came."
        page.wait_for_timeout(20)


def held_back(page: Page, address: str) -> list[Route]:
    """The requests to `address` from here on: each waits until it is answered or let go."""
    held: list[Route] = []
    page.route(address, lambda route: held.append(route))  # playwright asks a function for its parameters
    return held
