"""The line that says how the unit is now, on a tablet and a phone: to the answer behind it, and “not so”."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from tests.bench_runs import answered, arrived
from tests.browser.conftest import CUT_OFF
from tests.browser.test_bench_offline import PANELS_ARE_KEPT, until
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import User

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def emptied(mechanic: User) -> Run:
    """A fork that sits low, its wheel and caliper off and its air out."""
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    arrived(run)
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")
    return run


@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_it_was_pumped_up_to_look(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Axe, emptied: Run, mechanic: User, screen: str
) -> None:
    page = open_screen(screen)
    sign_in(page, mechanic)
    lowers = f"/bench/1047/run/{emptied.pk}/foot-fasteners-off/"
    page.goto(lowers)
    line = page.get_by_role("region", name="The fork now")
    expect(line.get_by_role("listitem").first).to_contain_text("Air chambers empty")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "the page is wider than the screen"
    for place in (line.get_by_role("link").first, line.get_by_text("It is otherwise")):
        box = place.bounding_box()
        assert box is not None
        assert box["height"] >= 44
    line.get_by_text("It is otherwise").click()
    axe(page)

    line.get_by_role("link", name="Air chambers empty").click()
    expect(page).to_have_url(re.compile("/all-air-out/$"))

    page.goto(lowers)
    line.get_by_text("It is otherwise").click()
    line.get_by_role("button", name="Not so: the positive air chamber is empty").click()
    expect(page).to_have_url(re.compile("/all-air-out/$"))
    expect(line).to_contain_text("Air chambers: not known")
    expect(line.get_by_role("link", name="Wheel out")).to_be_visible()
    assert Tick.objects.filter(run=emptied, step__key="all-air-out").latest("pk").outcome == "taken_back"

    page.goto(lowers)
    expect(page.locator(".message--error")).to_contain_text("Not now, it is dangerous")


def test_without_a_connection_it_says_nothing(
    tablet: Page, sign_in: SignIn, emptied: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    """An answer kept on the tablet moves the unit on: a line from before it could lie."""
    allowed_problems += CUT_OFF
    sign_in(tablet, mechanic)
    tablet.goto(f"/bench/1047/run/{emptied.pk}/foot-fasteners-off/")
    expect(tablet.get_by_role("region", name="The fork now")).to_be_visible()
    until(lambda: tablet.evaluate(PANELS_ARE_KEPT))
    tablet.context.set_offline(True)
    tablet.get_by_role("group", name="Answer").get_by_role("button", name="Done").click()
    expect(tablet.locator(".offline-note")).to_be_visible()
    expect(tablet.get_by_role("region", name="The fork now")).to_have_count(0)
