"""A clerk's day in the browser: booking in, looking up, handing back; by mouse, by keyboard and without script."""

from __future__ import annotations

import datetime as dt
import io
import re
import sqlite3
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import OperationalError
from django.utils import timezone
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

from tests import factories
from tests.browser.waiting import held_back, until
from tests.handed_over import hand_it_over, part, ready_ticket
from tests.known import known
from workshop.models import DrawerCount, Shop, SuspensionUnit, Ticket, User, Visit
from workshop.tickets.photos import add_photo, decode_photo


@pytest.fixture
def clerk(transactional_db: None) -> User:
    factories.ComplaintFactory(key="sits-low", title="Sits low in its travel", position=1)
    factories.SuspensionModelFactory(maker="Kestrigan", name="Plume 130")
    return factories.UserFactory()


@pytest.fixture
def unit(clerk: User) -> SuspensionUnit:
    """A fork on a bike, of a customer who was here before."""
    unit = factories.SuspensionUnitFactory(
        shop=clerk.shop,
        customer=factories.CustomerFactory(shop=clerk.shop, name="Petra Quennell", phone="0555 020 300"),
        serial="KP-00129",
        search_text="kestrigan plume kp-00129 kp00129",
    )
    factories.FittingFactory(unit=unit)
    return unit


def a_photo(size: tuple[int, int] = (80, 60)) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "teal").save(out, "JPEG")
    return out.getvalue()


def in_days(days: int) -> str:
    return (timezone.localdate() + dt.timedelta(days=days)).isoformat()


def book_a_new_fork_in(page: Page) -> None:
    page.goto("/counter/")
    page.get_by_role("link", name="Book in").first.click()
    page.get_by_label("Name", exact=True).fill("Jana Novák")
    page.get_by_label("Phone", exact=True).fill("0555 010 447")
    page.get_by_label("Make and model").fill("plume")
    page.get_by_text("Kestrigan Plume 130").click()
    page.get_by_label("Serial").fill("KP-77")
    page.get_by_label("Bike", exact=False).first.fill("Green hardtail")
    page.get_by_label("In the customer’s words").fill("Sits low since the winter.")
    page.get_by_text("Sits low in its travel").click()
    page.get_by_label("Promised for").fill(in_days(3))
    page.get_by_label("Pressure, in psi").fill("5.6 bar")
    page.get_by_label("Rebound, in clicks").fill("7")
    photo: FilePayload = {"name": "fork.jpg", "mimeType": "image/jpeg", "buffer": a_photo()}
    page.get_by_label("Photos", exact=True).set_input_files([photo])
    page.get_by_role("button", name="Book in").click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))


@pytest.mark.parametrize("screen", ["desktop", "phone"])
def test_a_new_fork_is_booked_in(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], clerk: User, screen: str
) -> None:
    page = open_screen(screen)
    sign_in(page, clerk)
    book_a_new_fork_in(page)
    expect(page.get_by_text("is booked in")).to_be_visible()
    ticket = Ticket.objects.get()
    assert (ticket.customer.name, known(ticket.unit.model).name) == ("Jana Novák", "Plume 130")
    assert [complaint.key for complaint in ticket.complaints.all()] == ["sits-low"]
    assert ticket.settings_records.get().rebound_clicks == 7
    assert ticket.photos.count() == 1
    expect(page.get_by_role("button", name="Print label")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_known_customer_and_fork_are_booked_in_by_keyboard_alone(
    desktop: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    desktop.get_by_label("Name", exact=True).focus()
    desktop.keyboard.type("quenn")
    known = desktop.get_by_role("radio", name=re.compile("Petra Quennell"))
    expect(known).to_be_visible()
    desktop.keyboard.press("Tab")
    desktop.keyboard.press("Tab")
    desktop.keyboard.press("ArrowUp")
    expect(known).to_be_checked()
    fork = desktop.get_by_role("radio", name=re.compile("KP-00129"))
    expect(fork).to_be_checked()
    expect(desktop.get_by_role("radio", name=re.compile("carries it"))).to_be_checked()
    expect(known).to_be_focused()
    expect(desktop.get_by_label("Make and model")).to_be_hidden()
    for _ in range(3):
        desktop.keyboard.press("Tab")
    expect(desktop.get_by_label("In the customer’s words")).to_be_focused()
    desktop.keyboard.type("Loses air.")
    desktop.get_by_label("Promised for").fill(in_days(2))
    desktop.get_by_role("button", name="Book in").focus()
    desktop.keyboard.press("Enter")
    desktop.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    ticket = Ticket.objects.get()
    assert (ticket.customer, ticket.unit) == (unit.customer, unit)
    assert ticket.bike == unit.fittings.get().bike


COUNTS_PRESSES = """
  for (const what of ["mousedown", "keydown"]) {
    addEventListener(what, (event) => {
      if (event.isTrusted) sessionStorage.setItem(what, Number(sessionStorage.getItem(what)) + 1);
    }, true);
  }
"""


def presses(page: Page) -> tuple[int, int]:
    """How often the mouse and a key were pressed in a page with COUNTS_PRESSES, over all pages it went through."""
    counted = page.evaluate("['mousedown', 'keydown'].map((what) => Number(sessionStorage.getItem(what)))")
    return counted[0], counted[1]


def test_a_returning_customer_with_a_service_takes_six_clicks_and_few_keys(
    desktop: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    """From the first page, with a complaint, a price ceiling and the day as it is offered: 6 clicks and 23 keys."""
    sign_in(desktop, clerk)
    desktop.add_init_script(COUNTS_PRESSES)
    desktop.goto("/counter/")
    expect(desktop.locator("#lookup")).to_be_focused()
    desktop.keyboard.type("quenn")
    desktop.locator("a.result", has_text="Petra Quennell").first.click()
    desktop.get_by_role("link", name="Book in for Petra Quennell").click()
    expect(desktop.get_by_label("In the customer’s words")).to_be_focused()
    desktop.keyboard.type("Service is due")
    desktop.get_by_text("Sits low in its travel").first.click()
    desktop.locator("[data-fills]").first.click()
    desktop.get_by_label("Price limit, in EUR").click()
    desktop.keyboard.type("120")
    desktop.get_by_role("button", name="Book in").first.click()
    desktop.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    ticket = Ticket.objects.get()
    assert (ticket.customer, ticket.unit, ticket.price_ceiling) == (unit.customer, unit, Decimal(120))
    assert presses(desktop) == (6, len("quenn") + len("Service is due") + len("120"))


def test_the_same_by_keyboard_alone_and_handed_over_too(
    desktop: Page, sign_in: Callable[..., None], axe: Callable[[Page], None], clerk: User, unit: SuspensionUnit
) -> None:
    """No press of the mouse from the first page to the hand-over; the keys are shown over what is half typed."""
    sign_in(desktop, clerk)
    desktop.add_init_script(COUNTS_PRESSES)
    desktop.goto("/counter/")
    desktop.keyboard.type("quenn")
    hit = desktop.locator("a.result", has_text="Petra Quennell").first
    expect(hit).to_be_visible()
    desktop.keyboard.press("ArrowDown")
    expect(hit).to_be_focused()
    desktop.keyboard.press("Enter")
    desktop.wait_for_url(re.compile(r"/counter/customers/\d+/$"))
    desktop.keyboard.press("Control+Enter")  # the page's main button
    words = desktop.get_by_label("In the customer’s words")
    expect(words).to_be_focused()
    desktop.keyboard.type("Service is due?")
    desktop.keyboard.press("F1")
    panel = desktop.get_by_role("dialog", name="Keys")
    expect(panel).to_contain_text("Presses the page’s main button")
    axe(desktop)
    desktop.keyboard.press("Escape")
    expect(panel).to_have_count(0)
    expect(words).to_be_focused()
    expect(words).to_have_value("Service is due?")
    desktop.get_by_label("Sits low in its travel").press("Space")
    desktop.locator("[data-fills]").first.press("Enter")
    desktop.get_by_label("Price limit, in EUR").press("1")
    desktop.keyboard.press("Control+Enter")
    desktop.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    ticket = Ticket.objects.get()
    assert (ticket.unit, ticket.complaint_words) == (unit, "Service is due?")
    assert presses(desktop)[0] == 0
    assert presses(desktop)[1] <= 45
    ready = ready_ticket("80.00", number=1047, shop=clerk.shop, customer=unit.customer, unit__shop=clerk.shop)
    desktop.goto(f"/counter/tickets/{ready.number}/hand-back/")
    expect(desktop.get_by_role("radio", name="Cash")).to_be_focused()
    desktop.keyboard.press("Space")
    desktop.keyboard.press("Control+Enter")
    expect(desktop.get_by_text(f"Ticket {ready.number} is handed back.")).to_be_visible()
    assert presses(desktop)[0] == 0
    desktop.goto("/counter/keys/")  # the panel's page, where one key more is asked for
    desktop.keyboard.press("?")
    desktop.get_by_label("shows them too").press("Space")
    desktop.goto("/counter/customers/")
    desktop.locator("main").focus()
    desktop.keyboard.press("?")
    expect(panel).to_be_visible()


def test_a_usual_hand_over_takes_four_clicks_at_most(
    desktop: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    """From the first page: the row, how it is paid, the button; and the receipt to print, the fourth."""
    ticket = ready_ticket("80.00", shop=clerk.shop, customer=unit.customer, unit=unit)
    sign_in(desktop, clerk)
    desktop.add_init_script(COUNTS_PRESSES)
    desktop.goto("/counter/")
    desktop.get_by_role("link", name=f"Hand back ticket {ticket.number}").click()
    desktop.get_by_label("Card").click()
    desktop.get_by_role("button", name="Hand back").click()
    expect(desktop.get_by_role("button", name="Print receipt")).to_be_visible()
    assert presses(desktop) == (3, 0)
    ticket.refresh_from_db()
    assert ticket.state == "handed_back"


def test_a_customer_chosen_the_moment_he_appears_brings_his_forks(
    desktop: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    """What is seen can be pressed: a press as early as the browser allows, before a frame is drawn, is not lost."""
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    desktop.evaluate(
        """() => {
          const hits = document.querySelector("#customer-hits");
          new MutationObserver((_, watch) => {
            const first = hits.querySelector("input[type=radio]");
            if (first === null) return;
            watch.disconnect();
            first.click();
          }).observe(hits, { childList: true, subtree: true });
        }"""
    )
    desktop.get_by_label("Name", exact=True).press_sequentially("quenn")
    expect(desktop.get_by_role("radio", name=re.compile("Petra Quennell"))).to_be_checked()
    expect(desktop.get_by_role("radio", name=re.compile("KP-00129"))).to_be_checked(timeout=5_000)


def test_the_button_stays_ready_while_a_look_up_is_under_way(
    desktop: Page, sign_in: Callable[..., None], clerk: User
) -> None:
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    held = held_back(desktop, "**/book-in/promise/")  # its answer never comes
    desktop.get_by_label("Promised for").fill(in_days(2))
    desktop.get_by_label("Promised for").blur()
    until(desktop, lambda: held)
    expect(desktop.locator("#book-in-now")).to_be_enabled()
    held[0].fulfill(status=204)


def test_a_known_serial_brings_its_owner_along(
    desktop: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    desktop.get_by_label("Serial").fill("kp 00129")
    desktop.get_by_role("radio", name=re.compile("KP-00129")).check()
    expect(desktop.get_by_role("radio", name=re.compile("Petra Quennell 0555"))).to_be_checked()


def test_enter_moves_to_the_next_field_and_books_nothing(
    desktop: Page, sign_in: Callable[..., None], clerk: User
) -> None:
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    desktop.get_by_label("Name", exact=True).focus()
    desktop.keyboard.press("Enter")
    expect(desktop.get_by_label("Phone", exact=True)).to_be_focused()
    assert desktop.url.endswith("/counter/book-in/")


def test_a_refusal_keeps_everything_also_the_chosen_photos(
    desktop: Page, sign_in: Callable[..., None], clerk: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 422")
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    desktop.get_by_label("Name", exact=True).fill("Jana Novák")
    desktop.get_by_label("Make and model").fill("An old fork")
    photo: FilePayload = {"name": "fork.jpg", "mimeType": "image/jpeg", "buffer": a_photo()}
    desktop.get_by_label("Photos", exact=True).set_input_files([photo])
    desktop.get_by_role("button", name="Book in").click()
    errors = desktop.get_by_role("alert")
    expect(errors).to_be_focused()
    expect(errors).to_contain_text("Enter what the customer said")
    expect(desktop.get_by_label("Name", exact=True)).to_have_value("Jana Novák")
    assert desktop.get_by_label("Photos", exact=True).evaluate("field => field.files.length") == 1
    desktop.get_by_label("In the customer’s words").fill("Loses air.")
    desktop.get_by_role("button", name=re.compile("0 promised")).first.click()
    desktop.get_by_role("button", name="Book in").click()
    desktop.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    assert Ticket.objects.get().photos.count() == 1


def test_booking_in_works_without_script(
    open_screen: Callable[..., Page], sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    page = open_screen("desktop", java_script_enabled=False)
    sign_in(page, clerk)
    page.goto("/counter/book-in/")
    page.get_by_label("Name", exact=True).fill("quenn")
    page.get_by_role("button", name="Look up what is typed so far").click()
    page.get_by_role("radio", name=re.compile("Petra Quennell")).check()
    page.get_by_role("button", name="Look up what is typed so far").click()
    expect(page.get_by_role("radio", name=re.compile("KP-00129"))).to_be_checked()
    page.get_by_label("In the customer’s words").fill("Loses air.")
    page.get_by_label("Promised for").fill(in_days(2))
    page.get_by_role("button", name="Book in").click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    assert Ticket.objects.get().unit == unit


def test_is_it_ready_is_answered_while_typing(
    desktop: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    ticket = factories.TicketFactory(shop=clerk.shop, customer=unit.customer, unit=unit, state="ready", number=1047)
    sign_in(desktop, clerk)
    desktop.goto("/counter/")
    desktop.get_by_role("searchbox", name="Is it ready?").focus()
    desktop.keyboard.type("020300")
    hit = desktop.locator("#lookup-results").get_by_role("link", name=re.compile("Petra Quennell")).first
    expect(hit).to_contain_text("Ready")
    desktop.keyboard.press("ArrowDown")
    expect(hit).to_be_focused()
    desktop.keyboard.press("Escape")
    expect(desktop.get_by_role("searchbox", name="Is it ready?")).to_be_focused()
    desktop.get_by_role("searchbox", name="Is it ready?").fill("1047")
    desktop.keyboard.press("Enter")
    desktop.wait_for_url(f"**/counter/tickets/{ticket.number}/")


def test_a_ready_fork_is_handed_back(
    phone: Page, sign_in: Callable[..., None], clerk: User, unit: SuspensionUnit
) -> None:
    ticket = factories.TicketFactory(shop=clerk.shop, customer=unit.customer, unit=unit, state="ready")
    sign_in(phone, clerk)
    phone.goto("/counter/")
    phone.get_by_role("link", name=f"Hand back ticket {ticket.number}").click()
    phone.get_by_label("Rebound, in clicks").fill("8")
    phone.get_by_role("button", name="Hand back").click()
    expect(phone.get_by_text(f"Ticket {ticket.number} is handed back.")).to_be_visible()
    ticket.refresh_from_db()
    assert ticket.state == "handed_back"


def test_a_usual_hand_over_by_keyboard_and_in_three_presses(
    desktop: Page, sign_in: Callable[..., None], axe: Callable[[Page], None], clerk: User, unit: SuspensionUnit
) -> None:
    """From the first page: the row, how it is paid, and the button; the fourth press would be the receipt's.

    What came with it goes along, unless it is unticked.
    """
    visit = Visit.objects.create(shop=known(clerk.shop))
    of_it = {"shop": clerk.shop, "customer": unit.customer, "visit": visit}
    ticket = ready_ticket("80.00", unit=unit, **of_it)
    other = ready_ticket("20.00", unit__shop=clerk.shop, unit__customer=unit.customer, **of_it)
    sign_in(desktop, clerk)
    desktop.goto("/counter/")
    desktop.get_by_role("link", name=f"Hand back ticket {ticket.number}").press("Enter")
    cash = desktop.get_by_role("radio", name="Cash")
    expect(cash).to_be_focused()
    cash.press("Space")
    desktop.get_by_label("Cash handed in, in EUR").fill("120")
    goes_along = desktop.get_by_role("checkbox", name=re.compile(f"Ticket {other.number}"))
    for due, change in (("80.00", "40.00"), ("100.00", "20.00")):
        goes_along.press("Space")
        expect(desktop.get_by_role("heading", name=f"Due: {due} EUR")).to_be_visible()
        expect(desktop.get_by_text(f"Change: {change} EUR")).to_be_visible()
    axe(desktop)
    desktop.get_by_label("Cash handed in, in EUR").press("Enter")
    expect(desktop.get_by_text("Give 20.00 EUR change.")).to_be_visible()
    axe(desktop)
    expect(desktop.get_by_role("button", name="Print receipt")).to_be_visible()


def test_a_visit_that_left_is_opened_again_and_the_drawer_is_counted(
    desktop: Page,
    sign_in: Callable[..., None],
    axe: Callable[[Page], None],
    clerk: User,
    unit: SuspensionUnit,
    allowed_problems: list[str],
) -> None:
    """Two of a visit left on one receipt; one comes back, its credit note follows, and the cash agrees in the end."""
    allowed_problems.append("status of 422")
    of_it = {"shop": clerk.shop, "customer": unit.customer, "visit": Visit.objects.create(shop=known(clerk.shop))}
    ticket = ready_ticket("80.00", unit=unit, number=1047, **of_it)
    other = ready_ticket("20.00", unit__shop=clerk.shop, unit__customer=unit.customer, number=1048, **of_it)
    hand_it_over(ticket, part("cash", "100.00"), along=[other])
    sign_in(desktop, factories.UserFactory(shop=clerk.shop, owner=True))
    desktop.goto(f"/counter/tickets/{ticket.number}/payments/")
    desktop.get_by_text("Open it again", exact=True).first.click()
    desktop.get_by_label("Why it is opened again; a credit note prints it").fill("It still creaks")
    desktop.get_by_role("button", name="Open it again").click()
    expect(desktop.get_by_text(f"Ticket {ticket.number} is open again: ready.")).to_be_visible()
    expect(desktop.get_by_text("It still creaks").first).to_be_visible()
    axe(desktop)
    assert list(Ticket.objects.order_by("number").values_list("state", flat=True)) == ["ready", "handed_back"]
    desktop.goto("/counter/takings/")
    expect(desktop.get_by_text("Receipts less credit notes").locator("xpath=..")).to_contain_text("20.00 EUR")
    desktop.get_by_label("Counted now").fill("99")
    desktop.get_by_role("button", name="Close the day").click()
    expect(desktop.get_by_role("alert")).to_contain_text("1.00 EUR too little")
    axe(desktop)
    expect(desktop.get_by_label("Counted now")).to_have_value("99")
    desktop.get_by_label("Why it does not agree").fill("Stamps")
    desktop.get_by_role("button", name="Close the day").press("Enter")
    expect(desktop.get_by_text(re.compile(r"1\.00 EUR: Stamps"))).to_be_visible()
    counted = DrawerCount.objects.get()
    assert (counted.cash, counted.counted, counted.reason) == (Decimal(100), Decimal(99), "Stamps")


def test_hand_back_leads_to_the_price_that_is_missing(
    phone: Page,
    sign_in: Callable[..., None],
    axe: Callable[[Page], None],
    clerk: User,
    unit: SuspensionUnit,
    allowed_problems: list[str],
) -> None:
    allowed_problems.append("status of 422")
    ticket = factories.TicketFactory(shop=clerk.shop, customer=unit.customer, unit=unit, state="ready")
    factories.PartLineFactory(ticket=ticket, part=None, words="Odd circlip", unit_price=None, status="used")
    sign_in(phone, clerk)
    phone.goto(f"/counter/tickets/{ticket.number}/hand-back/")
    phone.get_by_role("button", name="Hand back").click()
    expect(phone.get_by_role("alert")).to_contain_text("“Odd circlip” has no price")
    axe(phone)
    assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
    phone.get_by_role("link", name="Parts and their prices").click()
    expect(phone.get_by_label("Price each of Odd circlip")).to_be_visible()


def filled(shop: Shop, unit: SuspensionUnit) -> Ticket:
    """A ticket with something in every part of its page."""
    ticket = factories.TicketFactory(
        shop=shop, customer=unit.customer, unit=unit, bike=unit.fittings.get().bike, state="ready", notes="Call first.",
        promised_on=timezone.localdate(),
    )  # fmt: skip
    factories.SettingsRecordFactory(ticket=ticket)
    factories.ConditionNoteFactory(ticket=ticket)
    add_photo(ticket=ticket, by=None, photo=decode_photo(io.BytesIO(a_photo())), caption="Left stanchion")
    for state in ("booked_in", "on_the_bench"):
        factories.TicketFactory(shop=shop, state=state, promised_on=timezone.localdate() - dt.timedelta(days=1))
    factories.TicketFactory(shop=shop, waiting=True)
    return ticket


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["desktop", "tablet", "phone"])
def test_every_page_is_accessible_and_fits(
    open_screen: Callable[..., Page],
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    clerk: User,
    unit: SuspensionUnit,
    screen: str,
) -> None:
    ticket = filled(known(clerk.shop), unit)
    page = open_screen(screen)
    sign_in(page, clerk)
    bike = ticket.bike_id
    for address in (
        "", "search/?q=petra", "tickets/", f"book-in/?customer={unit.customer_id}", "book-in/",
        f"tickets/{ticket.number}/", f"tickets/{ticket.number}/agreement/", f"tickets/{ticket.number}/hand-back/",
        f"tickets/{ticket.number}/settings/arrival/", f"tickets/{ticket.number}/visit/",
        f"tickets/{ticket.number}/put-right/", f"tickets/{ticket.number}/put-right/whose/?customer={unit.customer_id}",
        f"tickets/{ticket.number}/put-right/together/", "customers/", "customers/new/",
        f"customers/{unit.customer_id}/",
        f"customers/{unit.customer_id}/edit/", f"customers/{unit.customer_id}/new-unit/",
        f"customers/{unit.customer_id}/new-bike/", f"bikes/{bike}/", f"bikes/{bike}/edit/", f"units/{unit.pk}/",
        f"units/{unit.pk}/edit/", f"units/{unit.pk}/give/?q=a", f"tickets/{ticket.number}/payments/", "takings/",
        "open-sums/",
    ):  # fmt: skip
        page.goto(f"/counter/{address}")
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), address
        assert page.locator("h1").count() == 1, address


def test_pages_with_something_to_put_right_are_accessible(
    desktop: Page,
    sign_in: Callable[..., None],
    axe: Callable[..., None],
    clerk: User,
    unit: SuspensionUnit,
    allowed_problems: list[str],
) -> None:
    allowed_problems += ["status of 422", "status of 409"]
    ticket = filled(known(clerk.shop), unit)
    sign_in(desktop, clerk)
    desktop.goto("/counter/book-in/")
    desktop.get_by_role("button", name="Book in").click()
    expect(desktop.get_by_role("alert")).to_be_visible()
    axe(desktop)
    desktop.goto(f"/counter/tickets/{ticket.number}/agreement/")
    Ticket.objects.filter(pk=ticket.pk).update(version=5, notes="Theirs")
    desktop.get_by_label("Notes for the bench").fill("Mine")
    desktop.get_by_role("button", name="Save").click()
    expect(desktop.get_by_role("alert")).to_contain_text("Somebody changed this")
    axe(desktop)
    desktop.get_by_role("button", name="Save mine over theirs").click()
    expect(desktop.get_by_text("The agreement is changed")).to_be_visible()


def test_what_is_wrong_with_the_machine_is_said_beside_the_work(
    clerk: User,
    desktop: Page,
    sign_in: Callable[..., None],
    allowed_problems: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fails(*asked: object) -> None:
        full = sqlite3.OperationalError("database or disk is full")
        full.sqlite_errorname = "SQLITE_FULL"
        raise OperationalError(*full.args) from full

    monkeypatch.setattr("workshop.counter.search_views.find", fails)
    allowed_problems += ["503", "htmx:responseError"]
    sign_in(desktop, clerk)
    desktop.goto("/counter/")
    desktop.locator("#lookup").fill("quennell")
    expect(desktop.locator("#connection")).to_contain_text("The disk is full. Nothing of this was saved.")
    assert desktop.locator("#lookup").input_value() == "quennell"
