"""What a finding is, said on the tablet: with and without a network, by keyboard, and what no step asks for."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from tests.bench_runs import answered, arrived
from tests.browser.conftest import CUT_OFF
from tests.browser.test_bench_offline import Axe, SignIn, address, all_sent, heading, open_and_keep
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import FreeFinding, User


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def run(mechanic: User) -> Run:
    """Clean outside: the stanchions come next, and are a check that could find the cause."""
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    begun = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=begun)
    arrived(begun)
    answered(begun, "pressure-and-cycle", "cant_tell")
    answered(begun, "clean-outside", "done")
    return begun


@pytest.fixture
def _cut_off_is_no_fault(allowed_problems: list[str]) -> None:
    allowed_problems += CUT_OFF


def test_at_found_three_large_buttons_ask_what_it_is_and_the_search_goes_on(
    tablet: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User
) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "inspect-stanchions"))
    tablet.get_by_role("group", name="Answer").get_by_role("link", name=re.compile("^Found")).tap()
    choice = tablet.get_by_role("region", name="Found: what is it?")
    names = [button.inner_text().strip() for button in choice.get_by_role("button").all()]
    assert names == ["This is the cause", "By the way", "Dangerous: do not ride"]
    for button in choice.get_by_role("button").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 44
    axe(tablet)
    choice.get_by_role("button", name="Dangerous: do not ride").tap()
    expect(heading(tablet)).not_to_have_text("Inspect the stanchions")
    tablet.get_by_text("Why this step").tap()
    expect(tablet.get_by_text("“Inspect the wipers”")).to_be_visible()  # the search goes on with air in the fork
    expect(tablet.get_by_text("Do not ride.").first).to_be_visible()
    axe(tablet)
    assert Tick.objects.get(outcome="found").finding == "danger"


def test_by_keyboard(tablet: Page, sign_in: SignIn, run: Run, mechanic: User) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "inspect-stanchions"))
    tablet.get_by_role("group", name="Answer").get_by_role("link", name=re.compile("^Found")).press("Enter")
    for _ in range(2):
        tablet.keyboard.press("Tab")
    expect(tablet.locator(":focus")).to_have_text("By the way")
    tablet.keyboard.press("Enter")
    expect(heading(tablet)).not_to_have_text("Inspect the stanchions")
    tablet.get_by_text("Why this step").tap()
    expect(tablet.get_by_text("“Inspect the wipers”")).to_be_visible()  # the search goes on with air in the fork
    assert Tick.objects.get(outcome="found").finding == "by_the_way"


@pytest.mark.usefixtures("_cut_off_is_no_fault")
def test_without_a_network_the_search_goes_on_too_and_all_of_it_arrives(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User
) -> None:
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "inspect-stanchions"))
    tablet.context.set_offline(True)
    tablet.get_by_text("Seen something else on it?").tap()
    seen = tablet.locator("#step-findings form")
    seen.get_by_label("Where").fill("Crown")
    seen.get_by_label("Damage or wear").fill("Hairline crack")
    seen.get_by_label("Dangerous: do not ride").check()
    seen.get_by_role("button", name="Record it on the ticket").tap()
    expect(tablet.locator("#unsent")).to_contain_text("1")
    tablet.get_by_role("region", name="Found: what is it?").get_by_role("button", name="By the way").tap()
    expect(heading(tablet)).to_have_text("Inspect the wipers")
    tablet.context.set_offline(False)
    all_sent(tablet)
    assert Tick.objects.get(outcome="found").finding == "by_the_way"
    assert FreeFinding.objects.get().kind == "danger"


def test_what_is_missing_is_asked_for_before_anything_waits_to_be_sent(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User
) -> None:
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "inspect-stanchions"))
    tablet.get_by_text("Seen something else on it?").tap()
    seen = tablet.locator("#step-findings form")
    seen.get_by_label("Damage or wear").fill("Hairline crack")
    seen.get_by_role("button", name="Record it on the ticket").tap()
    expect(seen.get_by_label("Where")).to_be_focused()
    assert not tablet.evaluate("async () => (await bench.store.everything()).length")
    seen.get_by_label("Where").fill("Crown")
    seen.get_by_label("By the way").check()
    seen.get_by_role("button", name="Record it on the ticket").tap()
    expect(tablet.locator("#step-findings")).to_contain_text("Hairline crack")
    expect(heading(tablet)).to_have_text("Inspect the stanchions")
    assert FreeFinding.objects.get().place == "Crown"
