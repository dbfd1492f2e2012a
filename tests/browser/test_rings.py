"""A timer whose time is up rings on the page that is open, whichever it is, until it is stopped."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from diagnosis.models import Run, StepTimer
from diagnosis.runs import start_run
from tests.bench_runs import arrived
from tests.browser.conftest import CUT_OFF
from tests.browser.reading_steps import go_to_step
from tests.browser.test_bench_offline import open_and_keep
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import User

pytestmark = pytest.mark.any_database  # what the server says of timers: tests/workshop/bench/test_ringing.py, on both
Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]
STEP = "prove-pressure"
LISTENS = """
  window.tones = 0;
  window.buzzes = 0;
  const made = BaseAudioContext.prototype.createOscillator;
  BaseAudioContext.prototype.createOscillator = function () { window.tones += 1; return made.call(this); };
  navigator.vibrate = () => { window.buzzes += 1; return true; };
"""


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def run(mechanic: User) -> Run:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    arrived(run)
    return run


@pytest.fixture
def page(open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User) -> Page:
    """A tablet of the mechanic's with a clock that a test can put on; what would sound is counted."""
    page = open_screen("tablet")
    page.context.add_init_script(LISTENS)
    page.clock.install()
    sign_in(page, mechanic)
    return page


def started(page: Page, run: Run) -> StepTimer:
    """Started as one does, at its step."""
    page.goto(f"/bench/1047/run/{run.pk}/{STEP}/")
    page.locator("#step-timer").get_by_role("button", name="Start").click()
    expect(page.locator("#step-timer").get_by_role("button", name="Stop")).to_be_visible()
    expect(page.locator("#my-timers [data-ring]")).to_have_count(1)
    return StepTimer.objects.latest("pk")


def bar(page: Page) -> Locator:
    return page.locator("#my-timers [data-ring]:not([hidden])")


def tones(page: Page) -> int:
    count: int = page.evaluate("window.tones")
    return count


def time_is_up(timer: StepTimer) -> None:
    """On the shop's computer."""
    StepTimer.objects.filter(pk=timer.pk).update(started_at=timezone.now() - timedelta(seconds=timer.seconds + 5))


def touch(page: Page) -> None:
    page.get_by_role("heading", level=1).first.click()


def test_it_rings_on_another_page_until_it_is_stopped_and_nothing_typed_is_lost(page: Page, axe: Axe, run: Run) -> None:
    timer = started(page, run)
    page.goto("/stores/")
    touch(page)
    page.locator("#board-search").fill("half a wo")
    page.clock.fast_forward("19:00")
    expect(bar(page)).to_have_count(0)
    assert tones(page) == 0
    page.clock.fast_forward("01:10")
    expect(bar(page)).to_have_count(1)
    expect(bar(page).get_by_role("alert")).to_contain_text("Time is up: ")
    page.clock.run_for(9_000)
    assert tones(page) >= 6, "three at once, and three more after four seconds"
    assert page.evaluate("window.buzzes") >= 2
    axe(page)
    box = bar(page).bounding_box()
    assert box is not None
    assert box["y"] >= 0
    page.mouse.wheel(0, 2000)
    expect(bar(page)).to_be_in_viewport()
    bar(page).get_by_role("button", name="Stop").focus()
    page.keyboard.press("Enter")
    expect(bar(page)).to_have_count(0)
    timer.refresh_from_db()
    assert timer.stopped_at is not None
    heard = tones(page)
    page.clock.run_for(90_000)
    assert tones(page) == heard
    assert page.locator("#board-search").input_value() == "half a wo"
    assert page.evaluate("document.activeElement.id") == "main"


def test_stopped_it_is_gone_forwards_backwards_and_after_a_reload(page: Page, run: Run) -> None:
    time_is_up(started(page, run))
    page.goto("/stores/")
    expect(bar(page)).to_have_count(1)
    page.goto("/sums/")
    bar(page).get_by_role("button", name="Stop").click()
    expect(bar(page)).to_have_count(0)
    page.go_back()
    expect(page.get_by_role("heading", level=1).first).to_be_visible()
    expect(bar(page)).to_have_count(0)
    page.go_forward()
    expect(bar(page)).to_have_count(0)
    page.reload()
    expect(page.locator("#my-timers [data-ring]")).to_have_count(0)
    started(page, run)  # a second time: it is another timer
    expect(bar(page)).to_have_count(0)
    assert StepTimer.objects.count() == 2


def test_a_page_opened_after_the_time_was_up_shows_it_at_once_and_rings_when_touched(page: Page, run: Run) -> None:
    time_is_up(started(page, run))
    page.goto("/counter/")
    expect(bar(page)).to_have_count(1)
    expect(bar(page).get_by_role("alert")).to_contain_text("Time is up: ")
    touch(page)
    page.clock.run_for(5_000)
    assert tones(page) >= 3
    page.reload()
    expect(bar(page)).to_have_count(1)


def test_of_two_tabs_one_rings_and_the_other_takes_over_when_it_is_closed(page: Page, run: Run) -> None:
    started(page, run)
    page.goto("/stores/")
    other = page.context.new_page()
    other.goto("/sums/")
    for tab in (page, other):
        touch(tab)
    page.clock.fast_forward("20:10")  # the clock of both
    for tab in (page, other):
        expect(bar(tab)).to_have_count(1)
    for _ in range(3):
        page.clock.run_for(4_000)
    silent, loud = sorted((page, other), key=tones)
    assert tones(silent) == 0
    assert tones(loud) >= 6
    loud.close()
    silent.bring_to_front()
    touch(silent)
    silent.clock.run_for(5_000)
    assert tones(silent) >= 3
    bar(silent).get_by_role("button", name="Stop").click()
    expect(bar(silent)).to_have_count(0)


def test_stopped_in_one_tab_it_is_silent_in_the_other(page: Page, run: Run) -> None:
    time_is_up(started(page, run))
    page.goto("/stores/")
    other = page.context.new_page()
    other.goto("/sums/")
    expect(bar(page)).to_have_count(1)
    bar(other).get_by_role("button", name="Stop").click()
    expect(bar(page)).to_have_count(0)
    expect(bar(other)).to_have_count(0)


def test_stopped_on_another_tablet_it_never_rings_here(page: Page, run: Run) -> None:
    started(page, run)
    page.goto("/stores/")
    touch(page)
    StepTimer.objects.update(stopped_at=timezone.now())
    page.clock.fast_forward("20:10")
    expect(page.locator("#my-timers [data-ring]")).to_have_count(0)
    page.clock.run_for(9_000)
    assert tones(page) == 0


def test_it_does_not_ring_on_another_mechanics_tablet(
    page: Page, open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User, run: Run
) -> None:
    time_is_up(started(page, run))
    theirs = open_screen("tablet")
    theirs.context.add_init_script(LISTENS)
    theirs.clock.install()
    sign_in(theirs, UserFactory(mechanic=True, shop=mechanic.shop))
    theirs.goto("/bench/1047/")
    expect(theirs.get_by_text("Time is up").first).to_be_visible()  # the ticket’s page says it, and no more
    touch(theirs)
    theirs.clock.run_for(9_000)
    expect(bar(theirs)).to_have_count(0)
    assert tones(theirs) == 0


def test_at_the_bench_it_rings_at_another_step_and_the_queue_stops_it_without_a_network(
    page: Page, run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems += CUT_OFF
    started(page, run)
    go_to_step(page, "clean-outside")
    expect(page.locator('#work[data-step="clean-outside"]')).to_be_visible()
    page.wait_for_load_state("load")
    page.clock.fast_forward("20:10")
    expect(bar(page)).to_have_count(1)
    page.context.set_offline(True)
    bar(page).get_by_role("button", name="Stop").click()
    expect(bar(page)).to_have_count(0)
    expect(page.locator("#unsent")).to_contain_text("1 entry not sent yet")
    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_hidden()
    assert StepTimer.objects.get().stopped_at is not None
    expect(page.locator('#work[data-step="clean-outside"]')).to_be_visible()


def test_without_a_network_elsewhere_it_says_that_it_was_not_stopped(
    page: Page, run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems += CUT_OFF
    time_is_up(started(page, run))
    page.goto("/stores/")
    expect(bar(page)).to_have_count(1)
    page.context.set_offline(True)
    bar(page).get_by_role("button", name="Stop").click()
    expect(bar(page).get_by_role("alert")).to_contain_text("Not stopped: there is no connection")
    page.context.set_offline(False)
    bar(page).get_by_role("button", name="Stop").click()
    expect(bar(page)).to_have_count(0)
    assert StepTimer.objects.get().stopped_at is not None


def test_a_page_that_the_tablet_kept_does_not_set_the_timer_back(
    page: Page, run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems += CUT_OFF
    started(page, run)
    open_and_keep(page, f"/bench/1047/run/{run.pk}/{STEP}/")
    expect(page.locator("#step-timer [data-timer-left]")).to_have_text(re.compile(r"^(19|20):"))
    page.clock.fast_forward("15:00")
    page.context.set_offline(True)
    page.reload()
    expect(page.locator("#step-timer [data-timer-left]")).to_have_text(re.compile(r"^0[345]:"))
    page.clock.fast_forward("06:00")
    expect(bar(page)).to_have_count(1)


@pytest.mark.parametrize("motion", ["no-preference", "reduce"])
def test_nothing_moves_or_flashes(
    open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User, run: Run, motion: str
) -> None:
    page = open_screen("phone")
    page.emulate_media(reduced_motion=motion)  # type: ignore[arg-type]
    sign_in(page, mechanic)
    time_is_up(started(page, run))
    page.goto("/stores/")
    expect(bar(page)).to_have_count(1)
    assert page.evaluate("document.getElementById('my-timers').getAnimations({ subtree: true }).length") == 0
    stop = bar(page).get_by_role("button", name="Stop").bounding_box()
    assert stop is not None
    assert min(stop["width"], stop["height"]) >= 44


def test_without_script_it_is_stopped_by_keyboard_and_leads_back(
    page: Page, open_screen: Callable[..., Page], run: Run
) -> None:
    time_is_up(started(page, run))
    plain = open_screen("tablet", java_script_enabled=False)
    plain.context.add_cookies(page.context.cookies())  # type: ignore[arg-type]
    plain.goto("/stores/?q=seal")
    expect(bar(plain)).to_have_count(1)
    bar(plain).get_by_role("button", name="Stop").focus()
    plain.keyboard.press("Enter")
    expect(bar(plain)).to_have_count(0)
    assert plain.url.endswith("/stores/?q=seal")
    assert StepTimer.objects.get().stopped_at is not None
