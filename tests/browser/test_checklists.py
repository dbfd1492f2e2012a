"""The owner's checklists in the browser: changed by keyboard, put in use, seen on the tablet; axe on every page."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from diagnosis.drafts import step_of
from diagnosis.models import Checklist, ChecklistDraft
from diagnosis.runs import start_run
from tests.factories import SuspensionModelFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.checklists.drafting import save_draft, start_draft

if TYPE_CHECKING:
    from workshop.models import Ticket, User

STEP = "record-arrival"


@pytest.fixture
def owner(transactional_db: None) -> User:
    return UserFactory(owner=True)


@pytest.fixture
def sits_low(owner: User) -> Checklist:
    return shipped_checklist("sits-low")


def on_the_bench(owner: User, checklist: Checklist) -> Ticket:
    ticket = TicketFactory(shop=owner.shop, state="on_the_bench", mechanic=owner)
    ticket.complaints.add(checklist.complaint)
    return ticket


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["desktop", "phone"])
def test_every_page_is_accessible_and_fits(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    owner: User,
    sits_low: Checklist,
    screen: str,
) -> None:
    start_draft(checklist=sits_low, by=owner)
    SuspensionModelFactory(maker="Kestrigan", name="Plume")
    page = open_screen(screen)
    sign_in(page, owner)
    draft = ["sits-low"]
    for name, args in [
        ("checklists", []), ("checklist", draft), ("checklist_new", []), ("checklists_import", []), ("draft", draft),
        ("draft_head", draft), ("draft_step", [*draft, STEP]), ("draft_retire", [*draft, STEP]), ("draft_use", draft),
        ("draft_preview", draft),
    ]:  # fmt: skip
        page.goto(reverse(f"office:{name}", args=args))
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), name


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["desktop", "phone"])
def test_a_danger_of_a_draft_is_read_on_every_screen(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    owner: User,
    sits_low: Checklist,
    screen: str,
) -> None:
    """Filling that no longer asks for the lowers: named with its way, on the draft and beside the comparison."""
    draft = start_draft(checklist=sits_low, by=owner)
    data = deepcopy(draft.data)
    step_of(data, "fill-in-stages")["requires"].pop("lowers")
    save_draft(draft=draft, data=data, by=owner, seen_version=1)
    page = open_screen(screen)
    sign_in(page, owner)
    for name in ("draft", "draft_use"):
        page.goto(reverse(f"office:{name}", args=["sits-low"]))
        expect(page.get_by_role("heading", name="Nothing that is open is filled")).to_be_visible()
        expect(page.get_by_role("listitem").filter(has_text="“Fill with air in stages”: done")).to_be_visible()
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), name
    expect(page.get_by_role("button", name="Put in use")).to_have_count(0)


def test_a_step_changed_by_keyboard_is_on_the_tablet_and_an_old_run_keeps_its_words(
    desktop: Page, sign_in: Callable[..., None], owner: User, sits_low: Checklist
) -> None:
    old_ticket, new_ticket = on_the_bench(owner, sits_low), on_the_bench(owner, sits_low)
    old_run = start_run(checklist=sits_low, facts={"kind": "fork"}, by=owner)
    TicketRunFactory(ticket=old_ticket, run=old_run)
    before = sits_low.steps.get(key=STEP).title
    sign_in(desktop, owner)
    desktop.goto(reverse("office:checklist", args=["sits-low"]))
    desktop.get_by_role("button", name="Change it").press("Enter")
    desktop.get_by_role("link", name=before, exact=True).press("Enter")
    title = desktop.get_by_label("Title")
    title.focus()
    desktop.keyboard.press("Control+A")
    desktop.keyboard.type("Clamp it and write down how it came")
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_text("is saved in the draft")).to_be_visible()
    desktop.get_by_role("link", name="Compare and put in use").press("Enter")
    expect(desktop.get_by_text(f"Title: “{before}” is now “Clamp it and write down how it came”.")).to_be_visible()
    desktop.get_by_role("button", name="Put in use").press("Enter")
    expect(desktop.get_by_text("Version 2 is in use.")).to_be_visible()
    assert not ChecklistDraft.objects.exists()

    desktop.goto(reverse("bench:step", args=[old_ticket.number, old_run.pk, STEP]))
    expect(desktop.get_by_role("heading", level=1)).to_have_text(before)
    new_run = start_run(checklist=Checklist.objects.get(is_current=True), facts={"kind": "fork"}, by=owner)
    TicketRunFactory(ticket=new_ticket, run=new_run)
    desktop.goto(reverse("bench:step", args=[new_ticket.number, new_run.pk, STEP]))
    expect(desktop.get_by_role("heading", level=1)).to_have_text("Clamp it and write down how it came")


def test_a_refusal_stands_beside_the_field_and_nothing_typed_is_lost(
    desktop: Page,
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    allowed_problems: list[str],
    owner: User,
    sits_low: Checklist,
) -> None:
    allowed_problems.append("status of 422")
    start_draft(checklist=sits_low, by=owner)
    sign_in(desktop, owner)
    desktop.goto(reverse("office:draft_step", args=["sits-low", "pressure-and-cycle"]))
    desktop.get_by_label("Title").fill("Set it and cycle")
    desktop.get_by_text("How surely it finds each cause").click()
    desktop.get_by_label("Equalising port blocked by grease").fill("1.5")
    desktop.get_by_role("button", name="Save in the draft").click()
    expect(desktop.get_by_text("Enter a chance from 0 to 1, for example 0.3.").first).to_be_visible()
    expect(desktop.get_by_label("Title")).to_have_value("Set it and cycle")
    axe(desktop)
