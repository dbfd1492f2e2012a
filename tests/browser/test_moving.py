"""Moving in, in the browser: its pages fit and are accessible; a row that is the same is brought in by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from tests.factories import SuspensionModelFactory, UserFactory
from workshop.models import Customer

if TYPE_CHECKING:
    from workshop.models import User

VALUES = (
    "Brand;Model;Year;Quantity;Side;Value;Source\n"
    'Kestrigan;Plume;2021;"Foot fastener";spring;"8,5 N·m";Manual\nKestrigan;Plume;2021;Axle;;80 N·m;Manual\n'
)
CUSTOMERS = "name,phone\nIlva Sample,0555 010 101\nTorben Sample,0555/010101\n"


@pytest.fixture
def owner(transactional_db: None) -> User:
    SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021)
    return UserFactory(owner=True)


def _file(content: str) -> Any:
    return {"name": "old.csv", "mimeType": "text/csv", "buffer": content.encode()}


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_values_are_matched_looked_at_imported_and_taken_back(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], axe: Callable[..., None], owner: User, screen: str
) -> None:
    page = open_screen(screen)

    def fits(what: str) -> None:
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), what

    sign_in(page, owner)
    page.goto(reverse("office:move_in", args=["values"]))
    page.get_by_text("Names and words for").click()
    fits("the layout")
    page.get_by_label("File").set_input_files(_file(VALUES))
    page.get_by_role("button", name="Show what would happen").click()
    expect(page.get_by_label("Side")).to_have_value("leg")
    fits("the columns")
    page.get_by_role("button", name="Show what would happen").click()
    expect(page.get_by_role("cell", name="was the decimal point lost")).to_be_visible()
    fits("the dry run")
    page.get_by_role("button", name="Import 1 row, leave 1 refused row out").click()
    expect(page.get_by_role("heading", name="To be checked")).to_be_visible()
    fits("the end")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("1 taken back")).to_be_visible()
    page.goto(reverse("office:specs"))
    fits("the specs")


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_a_customer_who_is_the_same_as_a_row_before_is_brought_in_only_when_that_is_said(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], axe: Callable[..., None], owner: User, screen: str
) -> None:
    page = open_screen(screen)
    sign_in(page, owner)
    page.goto(reverse("office:move_in", args=["customers"]))
    page.get_by_label("File").set_input_files(_file(CUSTOMERS))
    page.get_by_role("button", name="Show what would happen").click()
    expect(page.get_by_text("Same phone as line 2, so it is left out.")).to_be_visible()
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.get_by_role("button", name="Bring it in as another customer").click()
    expect(page.get_by_role("button", name="Leave it out")).to_be_visible()
    axe(page)
    page.get_by_role("button", name="Import 2 rows").click()
    expect(page.get_by_text("2 rows imported")).to_be_visible()
    assert Customer.objects.count() == 2
