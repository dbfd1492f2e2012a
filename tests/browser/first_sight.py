"""What of a step stands on the screen of a tablet before anybody scrolls, for every step of a checklist."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, cast

from django.template.loader import render_to_string
from django.test import RequestFactory
from playwright.sync_api import Page

from specs.models import SuspensionModel
from tests.factories import TicketFactory
from tests.shipped import shipped_checklist
from workshop.bench.step_page import StepPage, every_step
from workshop.models import Ticket, User
from workshop.web.requests import ShopRequest
from workshop.work.work import start_checklist

WIDE, UPRIGHT = {"width": 1024, "height": 768}, {"width": 768, "height": 1024}
NEEDED = {
    "title": ".step-card__title",
    "what to do": ".do-list > li",
    "values": ".step-card__values .spec-table :is(th, td)",
    "what counts as found": ".counts-as-found",
    "danger": ".caution--danger",
    "danger now": ".step-card > .message--error",
}
"""What has to be seen before an answer is pressed."""

_LOOK = """([html, needed]) => {
  htmx.swap("#work", html, { swapStyle: "outerHTML" });
  window.scrollTo(0, 0);
  const dock = document.querySelector(".answer-dock").getBoundingClientRect();
  const isPinned = dock.bottom <= window.innerHeight + 1;
  const foot = isPinned ? dock.top : window.innerHeight;
  const boxes = (selector) =>
    [...document.querySelectorAll("#work " + selector)].map((one) => one.getBoundingClientRect());
  const hidden = Object.entries(needed)
    .filter(([, selector]) => boxes(selector).some((box) => !box.height || box.bottom > foot + 1 || box.top < 0))
    .map(([name]) => name);
  const deepest = Math.max(...Object.values(needed).flatMap(boxes).map((box) => box.bottom));
  const page = document.scrollingElement;
  return { hidden, isPinned, comesAfter: dock.top >= deepest - 1, isTooWide: page.scrollWidth > page.clientWidth };
}"""


@dataclass(frozen=True)
class Look:
    """One step on one screen: what of it is not seen at first, and where its answers stand."""

    hidden: tuple[str, ...]
    is_pinned: bool
    comes_after: bool
    """Whether the answers stand below all that has to be read."""
    is_too_wide: bool

    @property
    def is_seen(self) -> bool:
        """Whether all of it, and the answers, are on the screen."""
        return not self.hidden and self.is_pinned


def job_of(checklist_key: str, model_name: str, by: User) -> Ticket:
    """A ticket of that unit on the bench, with a run of that checklist that nobody has answered yet."""
    model = SuspensionModel.objects.get(name=model_name)
    checklist = shipped_checklist(checklist_key)
    ticket: Ticket = TicketFactory(
        shop=by.shop,
        state=Ticket.State.ON_THE_BENCH,
        unit__model=model,
        unit__kind=model.kind,
        unit__travel_m=model.travels_mm[-1] / 1000 if model.travels_mm else None,
    )
    start_checklist(ticket=ticket, checklist=checklist, by=by)
    return ticket


def pages_of(ticket: Ticket, by: User) -> Iterator[tuple[StepPage, str, Callable[[], str]]]:
    """Each step of the ticket's run, read together: the words of its card without numbers, and what draws its page."""
    request = cast(ShopRequest, RequestFactory().get("/"))
    request.user, request.shop = by, ticket.shop
    cast(Any, request).htmx = True
    for page in every_step(request, ticket.number, ticket.ticket_runs.get().run_id):
        shown = page.context() | {"form": page.form(), "new_id": "", "evidence": [], "judged": []}
        card = render_to_string("bench/_step_card.html", shown, request)
        yield page, re.sub(r"<[^>]*>|\d|\s", "", card), partial(render_to_string, "bench/_work.html", shown, request)


def looked_at(page: Page, html: str) -> Look:
    """A step put into the page that is open, and looked at before anybody scrolls."""
    seen = page.evaluate(_LOOK, [html, NEEDED])
    return Look(tuple(seen["hidden"]), seen["isPinned"], seen["comesAfter"], seen["isTooWide"])
