"""The customer on the phone and at a desk: the link, the estimate, ride hours by figure and by track, the report."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from playwright.sync_api import FilePayload, Page, expect

from tests import factories
from tests.published.test_gpx import at, written
from workshop.charges.labour import charge_minutes
from workshop.charges.models import Agreement
from workshop.documents.estimate import gather_estimate
from workshop.intervals.models import Ride, WeeklyHours
from workshop.links.links import make_link, withdraw_link
from workshop.models import Document, Ticket

SCREENS = ["desktop", "phone"]
PDF = b"%PDF-1.7 the customer's report"


@pytest.fixture
def ticket(transactional_db: None) -> Ticket:
    """On the bench, with an estimate to answer and a report to read."""
    made: Ticket = factories.TicketFactory.create(state="on_the_bench", number=1047)
    charge_minutes(ticket=made, words="Bushings reamed", minutes=60, by=None)
    data = gather_estimate(made, "")
    factories.DocumentFactory.create(ticket=made, kind="estimate", data=data, data_digest="a" * 64)
    stored = default_storage.save("documents/report.pdf", ContentFile(PDF))
    factories.DocumentFactory.create(
        ticket=made, kind=Document.Kind.CUSTOMER_REPORT, pdf=stored, digest=hashlib.sha256(PDF).hexdigest()
    )
    return made


@pytest.mark.parametrize("screen", SCREENS)
def test_a_customer_reads_agrees_tells_hours_and_downloads(
    open_screen: Callable[..., Page], axe: Callable[[Page], None], ticket: Ticket, screen: str,
    allowed_problems: list[str],
) -> None:  # fmt: skip
    allowed_problems.append("status of 422")
    secret = make_link(ticket=ticket, by=None)[1]
    page = open_screen(screen)
    page.goto(f"/c/{secret}/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("A mechanic is working on it")
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    page.get_by_role("button", name=re.compile("I agree to 60.00 EUR")).click()
    expect(page.get_by_text("You agreed")).to_be_visible()
    answer = Agreement.objects.get()
    assert (answer.agreed, answer.amount, answer.how) == (True, Decimal("60.00"), Agreement.How.PAGE)

    hours = page.get_by_label("Hours you ride it in a usual week")
    hours.fill("a lot")
    page.get_by_role("button", name="Tell the shop").click()
    expect(page.locator(".field__error").first).to_be_visible()
    expect(page.get_by_label("Hours you ride it in a usual week")).to_have_value("a lot")
    axe(page)
    hours = page.get_by_label("Hours you ride it in a usual week")
    hours.fill("3.5")
    page.get_by_role("button", name="Tell the shop").click()
    expect(page.get_by_text("We count with it from today")).to_be_visible()
    assert WeeklyHours.objects.get().hours_per_week == 3.5

    ride: FilePayload = {
        "name": "ride.gpx",
        "mimeType": "application/gpx+xml",
        "buffer": written([at(0.002 * n, 60 * n) for n in range(31)]),
    }
    page.get_by_text("Send recorded rides instead").click()
    down = written([at(0.002 * n, 600 - 60 * n) for n in range(10)])
    backwards: FilePayload = {**ride, "name": "back.gpx", "buffer": down}
    for file, said in ((backwards, "time runs backwards"), (ride, "Thank you|counted")):
        page.get_by_label("Rides from your device").set_input_files([file])
        page.get_by_role("button", name="Send the rides").click()
        expect(page.get_by_text(re.compile(said)).first).to_be_visible()
    assert Ride.objects.get().moving_s == 1800.0

    report = page.get_by_role("link", name="Open the report (PDF)")
    fetched = page.request.get(str(report.get_attribute("href")))
    assert (fetched.status, fetched.body()) == (200, PDF)
    axe(page)


@pytest.mark.any_database
@pytest.mark.parametrize("screen", SCREENS)
def test_a_link_that_opens_nothing_any_more_says_so_and_is_accessible(
    open_screen: Callable[..., Page],
    axe: Callable[[Page], None],
    ticket: Ticket,
    screen: str,
    allowed_problems: list[str],
) -> None:
    allowed_problems += ["status of 404", "status of 410"]
    link, secret = make_link(ticket=ticket, by=None)
    withdraw_link(link=link, by=None)
    page = open_screen(screen)
    for address, said in ((f"/c/{secret}/", "This link has ended"), ("/c/forged-secret/", "This link opens nothing")):
        page.goto(address)
        expect(page.get_by_role("heading", level=1)).to_have_text(said)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
