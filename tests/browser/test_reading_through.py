"""A mechanic reads a checklist through on the tablet and signs it; the owner changes a step that two lists share."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from diagnosis.models import Checklist
from diagnosis.runs import start_run
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.checklists.drafting import start_draft
from workshop.signed.signing import sign

if TYPE_CHECKING:
    from workshop.models import Ticket, User

LIST, OTHER, SHARED = "shock-loses-air", "shock-sits-low", "shock-record-arrival"
UNREAD = "Not yet read through by this shop"
I_READ_IT = "I have read every step"

pytestmark = pytest.mark.any_database


@pytest.fixture
def owner(transactional_db: None) -> User:
    return UserFactory(owner=True)


@pytest.fixture
def mechanic(owner: User) -> User:
    return UserFactory(shop=owner.shop, mechanic=True, first_name="Bram", last_name="Ashdown")


@pytest.fixture
def lists(owner: User) -> list[Checklist]:
    return [shipped_checklist(key) for key in (LIST, OTHER)]


@pytest.fixture
def ticket(mechanic: User, lists: list[Checklist]) -> Ticket:
    ticket = TicketFactory(shop=known(mechanic.shop), state="on_the_bench", mechanic=mechanic)
    ticket.complaints.add(lists[0].complaint)
    TicketRunFactory(ticket=ticket, run=start_run(checklist=lists[0], facts=ticket.unit.facts(), by=mechanic))
    return ticket


def test_on_the_tablet_it_is_read_signed_and_no_longer_called_unread(
    tablet: Page,
    allowed_problems: list[str],
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    mechanic: User,
    ticket: Ticket,
) -> None:
    allowed_problems.append("status of 422")
    sign_in(tablet, mechanic)
    tablet.goto(reverse("bench:ticket", args=[ticket.number]))
    tablet.get_by_role("link", name=UNREAD).click()
    expect(tablet.get_by_role("heading", level=1, name="Rear shock loses air")).to_be_visible()
    axe(tablet)
    sign_button = tablet.get_by_role("button", name="Sign as Bram Ashdown")
    sign_button.click()
    expect(tablet.get_by_text("Read it through first, then say so here.").first).to_be_visible()
    tablet.get_by_label(I_READ_IT).check()
    sign_button.click()
    expect(tablet.get_by_role("heading", name="Signatures")).to_be_visible()
    expect(sign_button).to_have_count(0)
    tablet.goto(reverse("bench:ticket", args=[ticket.number]))
    expect(tablet.get_by_role("heading", name="Checklists")).to_be_visible()
    expect(tablet.get_by_text(UNREAD)).to_have_count(0)


def test_the_owner_sees_which_lists_change_with_a_step_and_that_they_are_unread_then(
    desktop: Page,
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    owner: User,
    mechanic: User,
    lists: list[Checklist],
) -> None:
    for one in lists:
        sign(shop=known(owner.shop), checklist=one, seen_wording=1, by=mechanic)
    start_draft(checklist=lists[0], by=owner)
    sign_in(desktop, owner)
    desktop.goto(reverse("office:draft_step", args=[LIST, SHARED]))
    expect(desktop.get_by_text(f"Shared with {lists[1].title}")).to_be_visible()
    desktop.get_by_label("Title", exact=True).fill("Write down how the shock came in")
    desktop.get_by_role("button", name="Save in the draft").click()
    desktop.get_by_role("link", name="Compare and put in use").click()
    expect(desktop.get_by_role("heading", name="Other checklists that have the same steps")).to_be_visible()
    axe(desktop)
    desktop.get_by_role("button", name="Put in use").click()
    expect(desktop.get_by_text("and so are the next versions of 1 that share its steps")).to_be_visible()
    desktop.goto(reverse("office:checklists"))
    expect(desktop.get_by_text("Changed since this shop read it through")).to_have_count(2)
    desktop.goto(reverse("checklists:read", args=[OTHER]))
    expect(desktop.get_by_role("heading", name="What changed since it was signed")).to_be_visible()
    expect(desktop.get_by_text("a second person reads and signs it too")).to_be_visible()
    axe(desktop)


@pytest.mark.parametrize("screen", ["tablet", "phone"])
def test_every_page_of_it_is_accessible_and_fits(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    owner: User,
    mechanic: User,
    ticket: Ticket,
    lists: list[Checklist],
    screen: str,
) -> None:
    sign(shop=known(owner.shop), checklist=lists[1], seen_wording=1, by=mechanic)
    page = open_screen(screen)
    sign_in(page, mechanic)
    run = ticket.ticket_runs.get().run_id
    for address in (
        reverse("checklists:to_read"),
        reverse("checklists:read", args=[OTHER]),
        reverse("bench:ticket", args=[ticket.number]),
        reverse("bench:step", args=[ticket.number, run, SHARED]),
    ):
        page.goto(address)
        axe(page)
        width, wide = page.evaluate("[document.documentElement.clientWidth, document.documentElement.scrollWidth]")
        assert wide <= width, f"{address} is wider than the {screen}"
    page.goto(reverse("checklists:read", args=[OTHER]))
    page.get_by_text("Take it back").first.click()
    page.get_by_label("Why it no longer holds").fill("The bolts are told wrong.")
    page.get_by_role("button", name="Take back").click()
    expect(page.get_by_text("“The bolts are told wrong.”")).to_be_visible()
    expect(page.get_by_text(UNREAD)).to_be_visible()
