"""Readings that are words, tapped on a tablet and a phone, with and without the network."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from diagnosis.models import Reading, Run, Step
from diagnosis.runs import start_run
from tests.browser.conftest import CUT_OFF
from tests.browser.reading_steps import go_to_step
from tests.browser.test_bench_offline import open_and_keep
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import User

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]
KEY = "record-arrival"
KNOB = {
    "key": "knob_off", "label": "Rebound knob off", "quantity": "yes_no", "unit": "", "required": True,
    "low": "", "high": "", "help": "Before anything is opened.",
}  # fmt: skip
SIDE = {**KNOB, "key": "side", "label": "Which side", "quantity": "choice", "required": False,
        "help": "Where the oil is.",
        "choices": ["left", "right", "both, about alike"]}  # fmt: skip
DEPTH = {**KNOB, "key": "depth", "label": "Depth", "quantity": "length", "unit": "mm", "required": False,
         "low": "0 mm", "high": "250 mm", "help": "Wheel off the ground."}  # fmt: skip


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def run(mechanic: User) -> Run:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    Step.objects.filter(checklist=run.checklist_id, key=KEY).update(readings=[DEPTH, KNOB, SIDE])
    return run


@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_a_word_is_tapped_and_stays(
    open_screen: Callable[..., Page],
    sign_in: SignIn,
    mechanic: User,
    run: Run,
    axe: Axe,
    allowed_problems: list[str],
    screen: str,
) -> None:
    allowed_problems.append("422")
    page = open_screen(screen)
    sign_in(page, mechanic)
    address = f"/bench/1047/run/{run.pk}/{KEY}/"
    page.goto(address)
    knob = page.get_by_role("group", name="Rebound knob off")
    expect(knob.get_by_role("radio", checked=True)).to_have_count(0)
    expect(page.get_by_role("group", name="Which side").get_by_role("radio", name="not read")).to_be_checked()
    for word in ("yes", "no"):
        box = knob.locator("label", has_text=word).last.bounding_box()
        assert box is not None
        assert box["height"] >= 44
        assert box["width"] >= 44
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "the page is wider than the screen"
    axe(page)

    page.get_by_role("button", name="Done").click()
    expect(knob.locator(".field__error")).to_be_visible()
    assert not Reading.objects.exists()

    knob.get_by_text("yes").click()
    knob.get_by_text("no", exact=True).click()  # a change of mind
    page.get_by_role("group", name="Which side").get_by_text("both").click()
    page.get_by_role("button", name="Done").click()
    page.wait_for_function("() => !location.pathname.endsWith('/record-arrival/')")
    stored = dict(Reading.objects.values_list("key", "typed"))
    assert stored == {"knob_off": "no", "side": "both, about alike"}

    page.goto(address)
    expect(page.get_by_role("group", name="Rebound knob off").get_by_role("radio", name="no")).to_be_checked()


def test_words_kept_while_cut_off_stand_at_their_step_again(
    tablet: Page, sign_in: SignIn, mechanic: User, run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems += CUT_OFF
    sign_in(tablet, mechanic)
    open_and_keep(tablet, f"/bench/1047/run/{run.pk}/{KEY}/")
    tablet.context.set_offline(True)
    knob, side = (tablet.get_by_role("group", name=name) for name in ("Rebound knob off", "Which side"))
    knob.get_by_text("yes").tap()
    side.get_by_text("right").tap()
    tablet.get_by_role("button", name="Done").tap()
    expect(tablet.get_by_role("heading", level=1)).not_to_have_text("Make it safe and record how it came in")
    go_to_step(tablet, KEY)
    expect(tablet.locator("[data-tick-state]")).to_contain_text("not sent yet")
    expect(knob.get_by_role("radio", name="yes")).to_be_checked()
    expect(side.get_by_role("radio", name="right")).to_be_checked()
    assert not Reading.objects.exists()
