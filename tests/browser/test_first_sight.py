"""What a mechanic sees of a step before scrolling: what to do, this unit's values, what counts as found, the danger."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from diagnosis.models import Step
from diagnosis.runs import NotCovered, TypedReadings, tick
from tests.browser.first_sight import UPRIGHT, WIDE, Look, job_of, looked_at, pages_of
from tests.factories import SuspensionModelFactory
from tests.shipped import shipped_folder
from workshop.models import Ticket, User

SignIn = Callable[[Page, User], None]
Screens = Callable[[Ticket], dict[str, Page]]

# An air fork, a coil fork, a fork of which little is known, an air shock and a coil shock.
FORKS, SHOCKS = ("Culvert", "Quern", "Dunlin"), ("Sluice", "Ballast")
GOAL = 0.95
LONG_LINE = "Turn it a quarter, look at the seat from both sides and wipe it before you go on to the next one."


@pytest.fixture
def mechanic(people: dict[str, User]) -> User:
    return people["mechanic"]


@pytest.fixture
def screens(open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User) -> Screens:
    """A tablet held wide and one held upright, at the first step of a ticket."""

    def opened(ticket: Ticket) -> dict[str, Page]:
        pages = {}
        for name, viewport in (("wide", WIDE), ("upright", UPRIGHT)):
            page = open_screen("tablet", viewport=viewport)
            sign_in(page, mechanic)
            page.goto(f"/bench/{ticket.number}/run/{ticket.ticket_runs.get().run_id}/")
            pages[name] = page
        return pages

    return opened


@pytest.mark.any_database
def test_a_step_is_seen_at_first_sight_in_both_orientations(screens: Screens, mechanic: User) -> None:
    pages: dict[str, Page] = {}
    looks: dict[str, dict[tuple[str, str, str], Look]] = {"wide": {}, "upright": {}}
    known: dict[tuple[str, str], dict[str, Look]] = {}
    for plan in shipped_folder().checklists:
        for model in SHOCKS if plan.complaint and "shock" in plan.complaint.suits else FORKS:
            try:
                ticket = job_of(plan.key, model, mechanic)
            except NotCovered:
                continue
            pages = pages or screens(ticket)
            for step, words, drawn in pages_of(ticket, mechanic):
                if (model, words) not in known:  # many lists share a step
                    html = drawn()
                    known[model, words] = {name: looked_at(page, html) for name, page in pages.items()}
                for name, look in known[model, words].items():
                    looks[name][plan.key, model, step.state.key] = look
    for name, of_steps in looks.items():
        over = [where for where, look in of_steps.items() if look.is_pinned and not look.comes_after]
        assert not over, f"{name}: answers lie over what has to be read: {over}"
        hidden = {where: look.hidden for where, look in of_steps.items() if not look.is_seen}
        assert len(hidden) <= (1 - GOAL) * len(of_steps), f"{name}: {len(hidden)} of {len(of_steps)}: {hidden}"
        assert not [where for where, look in of_steps.items() if look.is_too_wide], name


@pytest.mark.any_database
def test_what_does_not_fit_comes_before_its_answers_and_nothing_is_cut_off(screens: Screens, mechanic: User) -> None:
    """Twenty instructions, a model of which no value is known, and forty characters in one word."""
    model = SuspensionModelFactory(name="Unmeasured", travels_mm=[])
    ticket = job_of("routine-lowers-service", model.name, mechanic)
    long = Step.objects.get(checklist__runs=ticket.ticket_runs.get().run, key="oil-in-legs")
    long.do = [LONG_LINE] * 20
    long.counts_as_found = "W" * 40
    long.save()
    pages = screens(ticket)
    drawn = {step.state.key: draw for step, _, draw in pages_of(ticket, mechanic)}
    for page in pages.values():
        look = looked_at(page, drawn["oil-in-legs"]())
        assert look.comes_after
        assert not look.is_pinned
        assert not look.is_too_wide
        page.evaluate("scrollTo(0, document.body.scrollHeight)")
        expect(page.locator(".answer-dock--after")).to_have_count(0)  # all of it was seen: the answers are at hand
        missing = page.locator(".spec-table .spec__missing")
        assert missing.count() == page.locator(".spec-table tbody tr").count() > 1
        field = page.locator("#step-form input[name^=reading-]").first
        field.fill("8" * 40)
        assert not page.evaluate("document.scrollingElement.scrollWidth > document.scrollingElement.clientWidth")


@pytest.mark.any_database
def test_numbers_that_are_folded_away_keep_no_answer_back(screens: Screens, mechanic: User) -> None:
    """The spring's numbers and those of letting the air out stand folded below: nobody has to scroll past them."""
    ticket = job_of("sits-low", "Culvert", mechanic)
    for key, read in (("record-arrival", {"rest_travel": "66 mm"}), ("arrival-pressure", {"pump_pressure": "76 psi"})):
        run = ticket.ticket_runs.get().run
        tick(
            run=run,
            step_key=key,
            outcome="done",
            by=mechanic,
            seen_version=run.version,
            client_id=uuid.uuid4(),
            readings=TypedReadings(typed=read),
        )
    pages = screens(ticket)
    drawn = {step.state.key: draw for step, _, draw in pages_of(ticket, mechanic)}
    for page in pages.values():
        for key in ("pressure-and-cycle", "free-port-by-hand"):
            look = looked_at(page, drawn[key]())
            assert page.locator(".step-card .spring .spec-table").count() == 1
            assert look.is_seen, key
