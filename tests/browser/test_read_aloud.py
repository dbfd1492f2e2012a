"""The main paths as a screen reader has them, by roles and names: book in, bench, a step, hand over."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from diagnosis.runs import start_run
from tests.factories import TicketFactory, TicketRunFactory
from tests.shipped import shipped_checklist

if TYPE_CHECKING:
    from workshop.models import Ticket, User

SignIn = Callable[[Page, "User"], None]
Answers = tuple[tuple[Literal["button", "link"], str | re.Pattern[str]], ...]
NAMELESS = re.compile(r"^\s*- (?:button|checkbox|combobox|link|radio|searchbox|textbox)(?! \").*$", re.MULTILINE)
"""A line of a snapshot with something to press or type into that says nothing of itself."""

BOOK_IN = """
- heading "Book in" [level=1]
- region "Customer":
  - textbox "Name"
  - textbox "Phone"
- region "Fork or shock":
  - textbox "Make and model"
  - group "Kind":
    - radio "fork" [checked]
    - radio "rear shock"
- region "What is wrong":
  - textbox "In the customer’s words"
- region "Promise":
  - textbox "Promised for"
- button "Book in"
"""
AT_THE_BENCH = """
- region "Ticket":
  - heading /Ticket \\d+/ [level=1]
- region "Checklists":
  - heading "Checklists" [level=2]
- region "Work done":
  - heading "Or it has to wait" [level=2]
  - textbox /What for, in a few words/
  - button "For parts"
  - button "For the customer’s answer"
"""
HAND_OVER = """
- heading "Hand back" [level=1]
- region "What was done":
  - heading "What was done" [level=2]
- region "Settings it leaves with":
  - heading "Settings it leaves with" [level=2]
  - textbox /Pressure/
"""


def on_the_bench(mechanic: User) -> tuple[Ticket, int]:
    """A ticket with a checklist begun, and the key of its run."""
    checklist = shipped_checklist("sits-low")
    ticket = TicketFactory(shop=mechanic.shop, state="on_the_bench", mechanic=mechanic)
    ticket.complaints.add(checklist.complaint)
    run = start_run(checklist=checklist, facts={"kind": "fork"}, by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return ticket, run.pk


def says_all_by_name(page: Page) -> None:
    """Nothing that can be pressed or typed into is without a name."""
    expect(page.get_by_role("main")).to_be_visible()
    assert NAMELESS.findall(page.locator("body").aria_snapshot()) == []


@pytest.mark.any_database
def test_booking_in_is_read_by_its_parts_and_names(desktop: Page, sign_in: SignIn, people: dict[str, User]) -> None:
    sign_in(desktop, people["counter"])
    desktop.goto(reverse("counter:book_in"))
    expect(desktop.get_by_role("main")).to_match_aria_snapshot(BOOK_IN)
    says_all_by_name(desktop)


@pytest.mark.any_database
def test_the_bench_and_its_steps_are_read_by_their_parts_and_names(
    tablet: Page, sign_in: SignIn, people: dict[str, User]
) -> None:
    ticket, run = on_the_bench(people["mechanic"])
    sign_in(tablet, people["mechanic"])
    tablet.goto(reverse("bench:ticket", args=[ticket.number]))
    expect(tablet.get_by_role("main")).to_match_aria_snapshot(AT_THE_BENCH)
    says_all_by_name(tablet)

    work: Answers = (("button", "Done"), ("button", "Left out"))
    check: Answers = (("button", "Ruled out"), ("link", "Found …"), ("button", re.compile("^Can.t tell$")))
    for step, answers in (("clean-outside", work), ("inspect-wipers", check)):
        tablet.goto(reverse("bench:step", args=[ticket.number, run, step]))
        expect(tablet.get_by_role("heading", level=1)).to_have_count(1)
        group = tablet.get_by_role("group", name="Answer", exact=True)
        for role, name in answers:
            expect(group.get_by_role(role, name=name)).to_be_visible()
        says_all_by_name(tablet)


@pytest.mark.any_database
def test_handing_over_is_read_by_its_parts_and_names(desktop: Page, sign_in: SignIn, people: dict[str, User]) -> None:
    ticket = TicketFactory(shop=people["counter"].shop, state="ready")
    sign_in(desktop, people["counter"])
    desktop.goto(reverse("counter:hand_back", args=[ticket.number]))
    expect(desktop.get_by_role("main")).to_match_aria_snapshot(HAND_OVER)
    says_all_by_name(desktop)
