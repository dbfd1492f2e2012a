"""The tablet at the bench: a run of a checklist with gloves on, a bad connection, and a second tablet."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, Page, expect

from diagnosis.models import MinutesCorrection, Reading, Run, StepTimer, Tick
from diagnosis.runs import start_run
from tests.browser.conftest import CUT_OFF
from tests.factories import (
    PartLineFactory,
    SpecValueFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
    TicketRunFactory,
    TickFactory,
    UserFactory,
)
from tests.shipped import shipped_checklist
from workshop.models import Ticket, User

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]

# Everything that is pressed on its own; a link in a sentence is as tall as its line.
PRESSED = (
    "main :is(.button, button, summary, a.step, .bench-row__link, select, textarea, "
    "input:not([type=hidden], [type=radio]), label:has(> [type=radio]))"
)  # of a radio, its words are pressed too


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def ticket(mechanic: User) -> Ticket:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, promised_on=timezone.localdate())
    ticket.complaints.add(shipped_checklist("sits-low").complaint)
    SpecValueFactory(model=ticket.unit.model)
    return ticket


@pytest.fixture
def run(ticket: Ticket, mechanic: User) -> Run:
    Ticket.objects.filter(pk=ticket.pk).update(state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return run


def address(run: Run, key: str) -> str:
    return f"/bench/1047/run/{run.pk}/{key}/"


def answer(page: Page, word: str) -> Locator:
    return page.get_by_role("group", name="Answer").get_by_role("button", name=word)


def small_targets(page: Page, least: int) -> list[str]:
    found: list[str] = page.eval_on_selector_all(
        PRESSED,
        """(all, least) => all
            .filter((e) => e.offsetParent !== null && !e.closest('.photo-button'))
            .map((e) => [e, e.getBoundingClientRect()])
            .filter(([, box]) => box.width > 0 && (box.height < least - 0.5 || box.width < least - 0.5))
            .map(([e, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${e.outerHTML.slice(0, 90)}`)""",
        least,
    )
    return found


def test_a_ticket_is_taken_and_worked_step_by_step(
    tablet: Page, sign_in: SignIn, axe: Axe, ticket: Ticket, mechanic: User
) -> None:
    sign_in(tablet, mechanic)
    tablet.goto("/bench/")
    tablet.get_by_role("button", name=re.compile(r"^Start\s?: ticket")).click()
    tablet.get_by_role("button", name="Start “Sits low in its travel”").click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Make it safe and record how it came in")
    tablet.get_by_label("Rest depth as it came in").fill("1.1 in")
    answer(tablet, "Done").click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    expect(tablet.get_by_role("heading", level=1)).to_be_focused()
    expect(tablet).to_have_url(re.compile("/arrival-pressure/$"))
    tablet.get_by_text("Why this step").tap()
    expect(tablet.locator(".why").first).to_contain_text("The arrival state is on record")
    expect(tablet.locator(".why").first).to_be_visible()
    assert Reading.objects.get().magnitude_si == pytest.approx(0.02794)
    axe(tablet)


def test_an_answer_is_taken_back_with_one_tap(tablet: Page, sign_in: SignIn, run: Run, mechanic: User) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "record-arrival"))
    tablet.get_by_label("Rest depth as it came in").fill("28")
    answer(tablet, "Done").click()
    tablet.get_by_role("region", name="Last answer").get_by_role("button", name=re.compile("Take back")).click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Make it safe and record how it came in")
    assert list(Tick.objects.values_list("outcome", flat=True)) == ["done", "taken_back"]


def test_a_refused_reading_stays_in_its_field_with_the_reason(
    tablet: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 422")
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "record-arrival"))
    tablet.get_by_label("Rest depth as it came in").fill("28 psi")
    answer(tablet, "Done").click()
    expect(tablet.get_by_role("alert")).to_contain_text("not a unit of length")
    expect(tablet.get_by_role("alert")).to_be_in_viewport(ratio=0.9)
    expect(tablet.get_by_label("Rest depth as it came in")).to_have_value("28 psi")
    axe(tablet)


def test_enter_in_a_field_chooses_no_answer(tablet: Page, sign_in: SignIn, run: Run, mechanic: User) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "record-arrival"))
    tablet.get_by_label("Rest depth as it came in").fill("28")
    tablet.keyboard.press("Enter")
    answer(tablet, "Left out").click()
    expect(tablet.locator("main")).to_contain_text("(left out)")
    # Answers go out in the order of pressing: had Enter chosen one, it would be here, and first.
    assert list(Tick.objects.values_list("step__key", "outcome")) == [("record-arrival", "left_out")]


def test_a_timer_goes_on_over_a_reload_and_says_when_it_is_over(
    tablet: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User
) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "prove-pressure"))
    tablet.get_by_role("button", name="Start").click()
    left = tablet.locator("[data-timer-left]")
    expect(left).to_have_text(re.compile(r"^(20:00|19:\d\d)$"))
    timer = StepTimer.objects.get()
    timer.started_at -= dt.timedelta(minutes=10)
    timer.save()
    tablet.reload()
    expect(left).to_have_text(re.compile(r"^(10:00|09:\d\d)$"))
    timer.started_at -= dt.timedelta(minutes=10)
    timer.save()
    tablet.reload()
    expect(tablet.get_by_role("alert").filter(has_text="Time is up")).to_be_visible()
    expect(tablet.locator(".timer--over")).to_be_visible()
    axe(tablet)
    tablet.goto("/bench/")
    expect(tablet.get_by_role("link", name="ticket 1047")).to_be_visible()


def test_a_second_tablet_is_asked_and_may_save_its_answer_as_well(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Axe, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 409")
    first, second = open_screen("tablet"), open_screen("tablet")
    for page in (first, second):
        sign_in(page, mechanic)
        page.goto(address(run, "record-arrival"))
    first.get_by_label("Rest depth as it came in").fill("30")
    answer(first, "Done").click()
    expect(first.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    second.get_by_label("Rest depth as it came in").fill("28")
    second.get_by_text("Note", exact=True).first.tap()
    second.get_by_label("Note").fill("Measured with the caliper")
    answer(second, "Done").click()
    conflict = second.get_by_role("alert")
    expect(conflict).to_contain_text("Your answer is not saved yet")
    expect(conflict).to_contain_text("Done Make it safe and record how it came in")
    expect(second.get_by_label("Note")).to_have_value("Measured with the caliper")
    axe(second)
    assert not small_targets(second, 56)
    second.get_by_role("button", name="Save mine as well").click()
    expect(second.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    assert list(Tick.objects.order_by("pk").values_list("outcome", flat=True)) == ["done", "done"]


def test_a_second_tablet_may_keep_what_is_there(
    open_screen: Callable[..., Page], sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 409")
    first, second = open_screen("tablet"), open_screen("tablet")
    for page in (first, second):
        sign_in(page, mechanic)
        page.goto(address(run, "record-arrival"))
    first.get_by_label("Rest depth as it came in").fill("30")
    answer(first, "Done").click()
    expect(first.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    answer(second, "Left out").click()
    second.get_by_role("link", name="Keep what is there").click()
    expect(second.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    assert Tick.objects.count() == 1


class TestBadConnection:
    def test_an_answer_that_was_not_sent_is_kept_and_goes_out_by_itself(
        self, tablet: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User, allowed_problems: list[str]
    ) -> None:
        # The worker fetches for the page, so that what fails there is the worker's failure to the page.
        allowed_problems += CUT_OFF
        sign_in(tablet, mechanic)
        tablet.goto(address(run, "record-arrival"))
        tablet.get_by_label("Rest depth as it came in").fill("28")
        tablet.context.set_offline(True)
        answer(tablet, "Done").click()
        expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
        axe(tablet)
        assert not small_targets(tablet, 56)
        assert not Tick.objects.exists()
        tablet.context.set_offline(False)
        expect(tablet.locator("#unsent")).to_be_hidden()
        assert Tick.objects.get().outcome == "done"

    def test_an_answer_that_arrived_without_the_tablet_knowing_is_stored_once(
        self, tablet: Page, sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str]
    ) -> None:
        allowed_problems += ["ERR_FAILED", "htmx:sendError"]
        sign_in(tablet, mechanic)
        tablet.goto(address(run, "record-arrival"))
        tablet.get_by_label("Rest depth as it came in").fill("28")

        def lose_the_reply(route: object) -> None:
            route.fetch()  # type: ignore[attr-defined]
            route.abort()  # type: ignore[attr-defined]

        tablet.route("**/answer/", lose_the_reply, times=1)
        answer(tablet, "Done").click()
        tablet.locator("#unsent").get_by_role("button", name="Try now").click()
        expect(tablet.locator("#unsent")).to_be_hidden()
        assert Tick.objects.count() == Reading.objects.count() == 1

    def test_what_was_not_sent_is_still_there_after_a_reload(
        self, tablet: Page, sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str]
    ) -> None:
        allowed_problems += ["ERR_FAILED", "htmx:sendError"]
        sign_in(tablet, mechanic)
        tablet.goto(address(run, "record-arrival"))
        tablet.get_by_label("Rest depth as it came in").fill("28")
        tablet.route("**/answer/", lambda route: route.abort())
        answer(tablet, "Done").click()
        expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
        tablet.goto(address(run, "record-arrival"))
        expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
        expect(tablet.get_by_label("Rest depth as it came in")).to_have_value("28")
        tablet.unroute("**/answer/")
        tablet.locator("#unsent").get_by_role("button", name="Try now").click()
        expect(tablet.locator("#unsent")).to_be_hidden()
        assert Tick.objects.get().outcome == "done"


def test_mechanic_and_owner_put_the_same_minutes_right(
    phone: Page, desktop: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems += ["status of 422", "status of 409"]  # both are provoked
    step = run.checklist.steps.get(key="record-arrival")
    TickFactory(run=run, step=step, outcome="done", ticked_at=run.started_at + dt.timedelta(minutes=95))
    for page, user in ((phone, mechanic), (desktop, UserFactory(shop=mechanic.shop, owner=True))):
        sign_in(page, user)
        page.goto("/bench/1047/time/")
        expect(page.get_by_text("1 h 35 min left out as a pause", exact=True)).to_be_visible()
    correct = "Correct “Make it safe and record how it came in”"
    phone.get_by_role("textbox", name="Minutes for").fill("ten or so")
    phone.get_by_role("button", name=correct).tap()
    expect(phone.get_by_text("Enter the minutes as a number")).to_be_in_viewport()
    expect(phone.get_by_role("textbox", name="Minutes for")).to_have_value("ten or so")
    axe(phone)
    assert not small_targets(phone, 44)
    phone.get_by_role("textbox", name="Minutes for").fill("6,5")
    phone.get_by_role("button", name=correct).tap()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Bench time: 6 min")

    desktop.get_by_role("textbox", name="Minutes for").fill("12")
    desktop.get_by_role("button", name=correct).click()
    expect(desktop.get_by_text(f"Meanwhile {mechanic} put 6.5 min here")).to_be_visible()
    axe(desktop)
    desktop.get_by_role("button", name=correct).click()
    expect(desktop.get_by_role("heading", level=1)).to_have_text("Bench time: 12 min")
    assert [row.minutes for row in MinutesCorrection.objects.order_by("pk")] == [6.5, 12]


def test_without_script_a_step_is_answered_all_the_same(
    open_screen: Callable[..., Page], sign_in: SignIn, run: Run, mechanic: User
) -> None:
    page = open_screen("tablet", java_script_enabled=False)
    sign_in(page, mechanic)
    page.goto(address(run, "record-arrival"))
    page.get_by_label("Rest depth as it came in").fill("28")
    answer(page, "Done").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")


def test_a_reading_is_judged_as_soon_as_it_is_entered(tablet: Page, sign_in: SignIn, run: Run, mechanic: User) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "prove-rest"))
    tablet.get_by_label("Rest depth after the work").fill("28")
    tablet.get_by_label("Rest depth after the work").blur()
    expect(tablet.locator("#evidence")).to_contain_text("Deeper than usual.")
    tablet.get_by_label("Rest depth after the work").fill("4")
    tablet.get_by_label("Rest depth after the work").blur()
    expect(tablet.locator("#evidence")).to_contain_text("Within what is usual.")


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_every_screen_is_accessible_fits_and_has_large_targets(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Axe, ticket: Ticket, run: Run, mechanic: User, screen: str
) -> None:
    stocked = StockMovementFactory(item=StockItemFactory(shop=mechanic.shop, part__description="Wiper for 35 mm"))
    PartLineFactory(ticket=ticket, part=stocked.item.part)
    PartLineFactory(ticket=ticket, status="used")
    TicketFactory(shop=mechanic.shop, number=1048)
    TicketFactory(shop=mechanic.shop, number=1049, waiting=True)
    page = open_screen(screen)
    sign_in(page, mechanic)
    bench = ["/bench/", "/bench/1047/", "/bench/1047/parts/?q=wiper"]
    bench += [address(run, key) for key in ("record-arrival", "foot-fasteners-on", "prove-pressure", "prove-rest")]
    stores = ["/stores/", f"/stores/{stocked.item.pk}/", f"/stores/{stocked.item.pk}/edit/", "/stores/add/"]
    for path in [*bench, *stores]:
        page.goto(path)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), path
        assert not small_targets(page, 56 if path in bench else 44), path


@pytest.mark.any_database
@pytest.mark.parametrize("key", ["record-arrival", "pressure-and-cycle", "all-air-out"])
def test_what_to_do_is_in_view_before_its_answers(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, key: str
) -> None:
    """At first sight, with nothing scrolled: the first line of what to do, whole, above the row of answers."""
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "record-arrival"))
    tablet.get_by_label("Rest depth as it came in").fill("28")
    answer(tablet, "Done").click()
    expect(tablet.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    tablet.goto(address(run, key))
    line = tablet.locator(".do-list > li").first.bounding_box()
    dock = tablet.locator(".answer-dock").bounding_box()
    assert line is not None
    assert dock is not None
    assert line["y"] + line["height"] <= dock["y"]


LINES_OF_ANSWERS = """() => [...document.querySelectorAll(".answers .button")].map((button) => {
  const words = document.createRange();
  words.selectNodeContents(button.lastChild);
  const tops = [...words.getClientRects()].filter((box) => box.width > 1).map((box) => Math.round(box.top));
  return [button.innerText.trim(), new Set(tops).size];
})"""


@pytest.mark.any_database
@pytest.mark.parametrize("key", ["all-air-out", "pressure-and-cycle", "prove-pressure"])
def test_every_answer_takes_two_lines_at_most(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, key: str
) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, key))
    lines = tablet.evaluate(LINES_OF_ANSWERS)
    assert len(lines) >= 2
    assert all(words and 1 <= count <= 2 for words, count in lines), lines
