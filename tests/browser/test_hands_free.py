"""The bench without hands: single keys, half-typed readings that survive a reload, light and type."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page, expect

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from tests.bench_runs import answered, arrived
from tests.factories import SpecValueFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import User

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]

pytestmark = pytest.mark.any_database
DANGEROUS = "all-air-out"
_DRAFTS = "Object.keys(localStorage).filter((key) => key.startsWith('bench-draft')).length"
_TOO_FAINT = """async () => {
  const found = await axe.run("#work", { runOnly: { type: "rule", values: ["color-contrast-enhanced"] } });
  return found.violations.flatMap((one) => one.nodes.map((node) => node.html + node.failureSummary));
}"""


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def run(mechanic: User) -> Run:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    SpecValueFactory(model=ticket.unit.model)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    arrived(run)
    return run


@pytest.fixture
def bench(tablet: Page, sign_in: SignIn, mechanic: User) -> Page:
    sign_in(tablet, mechanic)
    return tablet


def open_step(page: Page, run: Run, key: str) -> None:
    page.goto(f"/bench/1047/run/{run.pk}/{key}/")


def set_on_the_tablet(page: Page, *words: str) -> None:
    page.goto("/bench/keys/")
    for word in words:
        page.get_by_role("radio", name=word, exact=True).check()


def test_single_keys_are_off_until_they_are_turned_on(bench: Page, run: Run) -> None:
    open_step(bench, run, "clean-outside")
    expect(bench.locator("body[data-keys-ready]")).to_have_count(1)
    bench.keyboard.press("1")
    bench.keyboard.press("PageDown")
    expect(bench).to_have_url(re.compile("/clean-outside/$"))
    assert not Tick.objects.filter(step__key="clean-outside").exists()


def test_a_pedal_answers_and_goes_on_and_back(bench: Page, run: Run) -> None:
    set_on_the_tablet(bench, "On")
    open_step(bench, run, "clean-outside")
    expect(bench.locator("body[data-keys-ready]")).to_have_count(1)
    heading = bench.get_by_role("heading", level=1)
    title = heading.inner_text()
    bench.keyboard.press("1")
    expect(heading).not_to_have_text(title)
    assert Tick.objects.get(step__key="clean-outside").outcome == "done"
    open_step(bench, run, "inspect-stanchions")
    bench.keyboard.press("PageDown")
    expect(bench).to_have_url(re.compile("/inspect-wipers/$"))
    bench.keyboard.press("PageUp")
    expect(bench).to_have_url(re.compile("/inspect-stanchions/$"))
    assert not Tick.objects.filter(step__key="inspect-stanchions").exists(), "going on is no answer"


def test_a_danger_is_never_answered_by_a_key(bench: Page, run: Run) -> None:
    set_on_the_tablet(bench, "On")
    answered(run, "wheel-out", "done")
    answered(run, "caliper-off", "done")
    open_step(bench, run, DANGEROUS)
    expect(bench.locator(".caution--danger")).to_be_visible()
    expect(bench.locator("body[data-keys-ready]")).to_have_count(1)
    bench.keyboard.press("1")
    expect(bench.locator("[data-tick-state]")).to_contain_text("answer is given by hand")
    assert not Tick.objects.filter(step__key=DANGEROUS).exists()


def test_keys_type_where_something_is_typed(bench: Page, run: Run) -> None:
    set_on_the_tablet(bench, "On")
    open_step(bench, run, "prove-rest")
    expect(bench.locator("body[data-keys-ready]")).to_have_count(1)
    field = bench.get_by_label("Rest depth after the work")
    field.focus()
    bench.keyboard.press("1")
    expect(field).to_have_value("1")
    assert not Tick.objects.filter(step__key="prove-rest").exists()


def test_what_is_half_typed_survives_a_reload_until_it_is_answered(bench: Page, run: Run) -> None:
    open_step(bench, run, "prove-rest")
    bench.get_by_label("Rest depth after the work").fill("4.5")
    bench.get_by_text("Note", exact=True).first.tap()
    bench.get_by_label("Note").fill("With the pump off")
    bench.reload()
    expect(bench.get_by_label("Rest depth after the work")).to_have_value("4.5")
    expect(bench.get_by_label("Note")).to_be_visible()
    expect(bench.get_by_label("Note")).to_have_value("With the pump off")
    expect(bench.locator("[data-tick-state]")).to_contain_text("not saved until you answer")
    open_step(bench, run, "clean-outside")
    expect(bench.locator("[data-tick-state]")).to_be_hidden()
    assert bench.evaluate(_DRAFTS) == 1
    open_step(bench, run, "prove-rest")
    title = bench.get_by_role("heading", level=1).inner_text()
    bench.get_by_role("group", name="Answer").get_by_role("button", name="Not proved").tap()
    expect(bench.get_by_role("heading", level=1)).not_to_have_text(title)
    assert bench.evaluate(_DRAFTS) == 0


def test_bright_and_dark_are_read_at_arms_length(bench: Page, axe: Axe, run: Run) -> None:
    for words in (("Off", "Bright", "Usual"), ("On", "Dark", "Largest")):
        set_on_the_tablet(bench, *words)
        axe(bench)
        for key in (DANGEROUS, "prove-pressure", "inspect-stanchions"):
            open_step(bench, run, key)
            axe(bench)
            bench.evaluate(AXE_SCRIPT)
            assert not bench.evaluate(_TOO_FAINT), (words, key)
            assert bench.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (words, key)


def test_a_number_is_tapped_on_large_keys_without_the_systems_keyboard(bench: Page, axe: Axe, run: Run) -> None:
    open_step(bench, run, "prove-rest")
    field = bench.get_by_label("Rest depth after the work")
    keys = bench.get_by_role("group", name="Number keys")
    expect(keys).to_have_count(0)
    field.tap()
    expect(field).to_have_attribute("inputmode", "none")
    for key in ("4", "Point", "5", "7", "Delete"):
        keys.get_by_role("button", name=key, exact=True).tap()
    expect(field).to_have_value("4.5")
    expect(field).to_be_focused()
    axe(bench)
    keys.get_by_role("button", name="Close").tap()
    expect(keys).to_have_count(0)
    expect(bench.locator("#evidence")).to_contain_text("Within what is usual.")
    field.tap()
    keys.get_by_role("button", name="Letters").tap()
    expect(keys).to_have_count(0)
    expect(field).to_have_attribute("inputmode", "text")
    expect(field).to_be_focused()
    open_step(bench, run, "prove-pressure")
    bench.locator("#step-reading-pressure_set").tap()
    keys.get_by_role("button", name="8", exact=True).tap()
    keys.get_by_role("button", name="Next field").tap()
    expect(bench.locator("#step-reading-pressure_recheck")).to_be_focused()
    expect(bench.locator("#step-reading-pressure_set")).to_have_value("8")
    expect(keys).to_be_in_viewport(ratio=1)
    expect(keys.get_by_role("button", name="Next field")).to_be_hidden()  # there is none
    keys.get_by_role("button", name="9", exact=True).tap()
    expect(bench.locator("#step-reading-pressure_recheck")).to_have_value("9")
