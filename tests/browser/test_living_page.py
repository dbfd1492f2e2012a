"""The page of all components fits each screen."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page


@pytest.mark.any_database
@pytest.mark.urls("tests.workshop.web.test_living_page")
@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_it_fits_the_screen(open_screen: Callable[..., Page], screen: str) -> None:
    page = open_screen(screen)
    page.goto("/components/")
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
