"""Reading what a step wants to know on the tablet, as a mechanic does: as shown, typed, and with a reason."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection

from django.db.models import F
from playwright.sync_api import Locator, Page, expect

from diagnosis.models import Run, StepTimer, Tick

_REASONS = "[data-asked] input, #step-reason-wait-not-kept"


# A finger aims at what stands still: after a change the page grows once the server has judged what was read.
_WATCH = """() => {
  if (window.changedAt === undefined) {
    document.addEventListener("change", () => { window.changedAt = performance.now(); });
    document.addEventListener("htmx:afterSettle", (event) => {
      if (event.detail.elt.id === "evidence" || event.target.id === "evidence") window.judgedAt = performance.now();
    });
  }
  window.changedAt = 0;
  window.judgedAt = 0;
}"""
_JUDGED = """() => {
  if (document.activeElement?.form?.id === "step-form") document.activeElement.blur();
  return !document.querySelector("#evidence") || !window.changedAt || window.judgedAt > window.changedAt;
}"""


def read_step(page: Page, typed: Callable[[str], str], *, leave: Collection[str] = ()) -> None:
    """Enter each empty reading: as shown where one tap does it, else what `typed` says of its key; name a tool."""
    page.evaluate(_WATCH)
    for field in page.locator("#step-form input[name^=reading-]:not([type=radio])").all():
        key = (field.get_attribute("name") or "").removeprefix("reading-")
        if key in leave or field.input_value():
            continue
        shown = page.locator(f'[data-as-shown][data-field="{field.get_attribute("id")}"]')
        if shown.count():
            shown.tap()
        elif (words := _words(typed, key, field)) is not None:
            field.fill(words)
    for tool in page.locator("#step-form select[name^=tool-]").all():
        tool.select_option(index=1)


def _words(typed: Callable[[str], str], key: str, field: Locator) -> str | None:
    """What is typed; None for a reading that need not be taken and of which a test says nothing."""
    try:
        return typed(key)
    except KeyError:
        if field.get_attribute("data-required") is not None:
            raise
        return None


def go_to_step(page: Page, key: str) -> None:
    """Two taps: on the phase that has the step, and on the step."""
    link = f'a.step[href$="/{key}/"]'
    page.locator(f".phase:has({link}) > summary").tap()
    page.locator(link).tap()


def keep_the_wait(page: Page) -> None:
    """Start the timer of the step and let its time pass."""
    start = page.locator('form[data-kind="start-timer"] button')
    if start.count():
        start.tap()
        expect(page.locator("#step-timer [data-timer]")).to_be_visible()
        hours_go_by()


def hours_go_by(hours: float = 5) -> None:
    """All that was done lies so much further back."""
    by = dt.timedelta(hours=hours)
    StepTimer.objects.update(started_at=F("started_at") - by, stopped_at=F("stopped_at") - by)
    Tick.objects.update(ticked_at=F("ticked_at") - by)
    Run.objects.update(started_at=F("started_at") - by)


def answer_step(page: Page, button: Locator, allowed_problems: list[str]) -> None:
    """Answer until the next step is there; what is not as wanted is said why the first time it is asked."""
    heading = page.get_by_role("heading", level=1)
    title = heading.inner_text()
    page.wait_for_function(_JUDGED)
    button.tap()
    asked = page.locator(_REASONS)
    expect(heading.filter(has_not_text=title).or_(asked.first).first).to_be_visible()
    if heading.inner_text() == title:
        allowed_problems.append("status of 422")
        for field in asked.all():
            field.fill("Measured twice")
        page.wait_for_function(_JUDGED)
        button.tap()
    expect(heading).not_to_have_text(title)
