"""What htmx puts into a page is said aloud: by the place itself, or by the status line of every page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from django.contrib.messages import SUCCESS
from django.contrib.messages.storage.base import Message
from django.template.loader import render_to_string
from playwright.sync_api import Page, expect

if TYPE_CHECKING:
    from workshop.models import User

SignIn = Callable[[Page, "User"], None]
KEPT = """() => { window.lines = []; const line = document.getElementById("said");
  new MutationObserver(() => line.textContent && window.lines.push(line.textContent))
    .observe(line, { childList: true, characterData: true, subtree: true }); }"""


@pytest.mark.any_database
def test_a_place_that_does_not_speak_is_spoken_for(desktop: Page, sign_in: SignIn, people: dict[str, User]) -> None:
    """The list of models is put there anew with each letter that is typed, and says nothing by itself."""
    sign_in(desktop, people["owner"])
    desktop.goto("/office/specs/")
    said = desktop.locator("#said")
    expect(said).to_have_attribute("role", "status")
    expect(said).to_have_text("")
    desktop.get_by_label("Part of the maker").fill("Culvert")
    expect(said).not_to_have_text("")
    expect(said).to_contain_text("Culvert")
    expect(desktop.get_by_label("Part of the maker")).to_be_focused()


@pytest.mark.any_database
def test_a_place_that_speaks_is_not_spoken_for_as_well(desktop: Page, sign_in: SignIn, people: dict[str, User]) -> None:
    sign_in(desktop, people["counter"])
    desktop.goto("/counter/")
    desktop.evaluate(KEPT)
    hits = desktop.locator("#lookup-results")
    expect(hits).to_have_attribute("aria-live", "polite")
    desktop.locator(".lookup input[type=search]").fill("Nobody at all")
    expect(hits).not_to_be_empty()
    desktop.wait_for_timeout(300)
    assert desktop.evaluate("window.lines") == []


@pytest.mark.any_database
def test_the_region_of_messages_stays_when_an_answer_fills_it(
    desktop: Page, sign_in: SignIn, people: dict[str, User]
) -> None:
    """One that is put there together with its words may not be read at all."""
    sign_in(desktop, people["counter"])
    desktop.goto("/counter/")
    answer = render_to_string("components/messages.html", {"oob": True, "messages": [Message(SUCCESS, "It is kept.")]})
    desktop.evaluate(
        """answer => {
          window.region = document.getElementById("messages");
          htmx.swap("#main", "<p>Done.</p>" + answer, { swapStyle: "innerHTML" });
        }""",
        answer,
    )
    expect(desktop.locator("#messages")).to_contain_text("It is kept.")
    assert desktop.evaluate("window.region === document.getElementById('messages')")
    expect(desktop.locator("#messages")).to_have_attribute("aria-live", "polite")
