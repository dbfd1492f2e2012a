"""Two mechanics with a tablet each at one fork: each sees the other's ticks, and neither is in the other's way."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from tests.bench_runs import answered, arrived
from tests.browser.conftest import CUT_OFF
from tests.browser.reading_steps import go_to_step
from tests.browser.test_bench_offline import open_and_keep
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import User

SignIn = Callable[[Page, User], None]
NEWS = "[data-news]"


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True, first_name="Ada", last_name="Moss")


@pytest.fixture
def jo(mechanic: User) -> User:
    return UserFactory(mechanic=True, shop=mechanic.shop, first_name="Jo", last_name="Fell")


@pytest.fixture
def run(mechanic: User) -> Run:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    arrived(run)
    answered(run, "clean-outside", "done")
    return run


@pytest.fixture
def two(open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User, jo: User) -> tuple[Page, Page]:
    """A tablet each, in profiles of their own."""
    pages = open_screen("tablet"), open_screen("tablet")
    for page, who in zip(pages, (mechanic, jo), strict=True):
        sign_in(page, who)
    return pages


def open_step(page: Page, run: Run, key: str) -> None:
    page.goto(f"/bench/1047/run/{run.pk}/{key}/")


def answer(page: Page, word: str) -> None:
    page.get_by_role("group", name="Answer").get_by_role("button", name=word).click()


def test_each_sees_the_others_tick_and_what_is_half_typed_stays(two: tuple[Page, Page], run: Run) -> None:
    mine, theirs = two
    open_step(mine, run, "inspect-stanchions")
    mine.locator('[data-fold="note"] > summary').tap()
    note = mine.locator('[name="note"]')
    note.fill("Two scratches, lower")
    open_step(theirs, run, "wheel-out")
    answer(theirs, "Done")
    expect(mine.locator(NEWS)).to_contain_text("Jo Fell")
    expect(mine.locator(NEWS)).to_contain_text("done")
    expect(mine.locator('a.step[href$="/wheel-out/"]')).to_contain_text("Done")
    expect(note).to_have_value("Two scratches, lower")
    expect(note).to_be_focused()
    answer(mine, "Ruled out")
    expect(theirs.locator('a.step[href$="/inspect-stanchions/"]')).to_contain_text("Ruled out")
    assert list(Tick.objects.order_by("pk").values_list("step__key", "note", "by__first_name"))[4:] == [
        ("wheel-out", "", "Jo"),
        ("inspect-stanchions", "Two scratches, lower", "Ada"),
    ]


def test_what_one_says_of_the_unit_the_other_sees_within_seconds_and_what_is_half_typed_stays(
    two: tuple[Page, Page], run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 422")
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")
    mine, theirs = two
    open_step(mine, run, "foot-fasteners-off")
    mine.locator('[data-fold="note"] > summary').tap()
    note = mine.locator('[name="note"]')
    note.fill("The left one is stiff")
    line = mine.get_by_role("region", name="The fork now")
    expect(line).to_contain_text("Air chambers empty")
    line.get_by_text("It is otherwise").click()
    theirs.goto(f"/bench/1047/run/{run.pk}/otherwise/")
    theirs.get_by_label("In your own words").fill("Pumped up to look")
    theirs.get_by_role("button", name=re.compile("^There is air in the air chambers")).click()
    expect(line).to_contain_text("Air chambers charged, as was said")
    expect(line.get_by_role("link", name="Say how it is instead")).to_be_visible()
    expect(mine.locator(NEWS)).to_contain_text("There is air in the air chambers, said at")
    expect(mine.locator(NEWS)).to_contain_text("by Jo Fell (this step rests on it)")
    expect(mine.locator(NEWS)).to_contain_text("Not now, it is dangerous")
    expect(note).to_have_value("The left one is stiff")
    answer(mine, "Done")
    expect(mine.get_by_role("alert")).to_contain_text("There is air in the air chambers")
    expect(mine.locator('[name="note"]')).to_have_value("The left one is stiff")
    assert not Tick.objects.filter(step__key="foot-fasteners-off").exists()

    theirs.goto(f"/bench/1047/run/{run.pk}/otherwise/")
    theirs.get_by_role("button", name="Take back").click()
    expect(line).to_contain_text("Air chambers: not known")


def test_what_was_seen_in_the_list_is_still_asked_at_the_same_step(
    two: tuple[Page, Page], run: Run, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 409")
    mine, theirs = two
    for page in two:
        open_step(page, run, "inspect-stanchions")
    answer(theirs, "Ruled out")
    expect(mine.locator(NEWS)).to_contain_text("(this step)")
    answer(mine, "Can’t tell")
    expect(mine.get_by_role("heading", name="Your answer is not saved yet")).to_be_visible()
    assert Tick.objects.filter(step__key="inspect-stanchions").count() == 1


def test_a_hidden_page_asks_nothing_and_asks_at_once_when_it_is_seen_again(two: tuple[Page, Page], run: Run) -> None:
    mine, _ = two
    asked: list[str] = []
    mine.on("request", lambda request: asked.append(request.url) if "/news/" in request.url else None)
    mine.clock.install()
    open_step(mine, run, "inspect-stanchions")
    for hidden in ("true", "false"):
        mine.evaluate(
            f"""() => {{
              Object.defineProperty(document, "hidden", {{ configurable: true, get: () => {hidden} }});
              document.dispatchEvent(new Event("visibilitychange"));
            }}"""
        )
        if hidden == "true":
            asked.clear()
            mine.clock.run_for(60_000)
            assert asked == []
            answered(run, "wheel-out", "done")
    expect(mine.locator('a.step[href$="/wheel-out/"]')).to_contain_text("Done")
    assert len(asked) == 1
    mine.clock.run_for(4_500)
    mine.evaluate("() => fetch('/health')")  # answered after what was asked before it
    assert len(asked) == 2


def test_a_tablet_coming_back_leaves_what_is_refused_and_brings_in_the_rest(
    two: tuple[Page, Page], run: Run, jo: User, allowed_problems: list[str]
) -> None:
    """Cut off, the fork is opened; meanwhile Jo fills it. What rests on the open fork waits, what does not goes in."""
    allowed_problems += CUT_OFF
    allowed_problems += ["status of 422", "status of 424"]
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")
    mine, _ = two
    open_and_keep(mine, f"/bench/1047/run/{run.pk}/foot-fasteners-off/")
    mine.context.set_offline(True)
    answer(mine, "Done")
    expect(mine.locator("#unsent")).to_contain_text("1 answer not sent yet")
    go_to_step(mine, "lowers-off")
    answer(mine, "Done")
    expect(mine.locator("#unsent")).to_contain_text("2 answers not sent yet")
    go_to_step(mine, "inspect-stanchions")
    answer(mine, "Ruled out")
    expect(mine.locator("#unsent")).to_contain_text("3 answers not sent yet")
    answered(run, "pressure-and-cycle", "ruled_out")
    Tick.objects.filter(step__key="pressure-and-cycle").update(by=jo)
    mine.context.set_offline(False)
    expect(mine.locator("#unsent")).to_contain_text("there is air in the positive air chamber")
    expect(mine.locator("#unsent")).to_contain_text("by Jo Fell")
    expect(mine.locator("#unsent")).to_contain_text("2 answers not sent yet")
    why = mine.locator("[data-not-counted]")
    expect(why).to_contain_text("“Done” at “Foot fasteners loose and shafts free” was not taken.")
    expect(why).to_contain_text("“Done” at “Lowers off” rests on that and waits.")
    go_to_step(mine, "lowers-off")
    expect(mine.get_by_role("heading", level=1)).to_have_text("Lowers off")
    expect(why).to_contain_text("“Done” at “Foot fasteners loose and shafts free” was not taken.")
    assert list(Tick.objects.order_by("pk").values_list("step__key", flat=True))[7:] == [
        "pressure-and-cycle",
        "inspect-stanchions",
    ]
