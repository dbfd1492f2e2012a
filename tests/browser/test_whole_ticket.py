"""One fork from the counter to the customer's PDF: booked in, worked to the end on a tablet, handed back, reported."""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Callable

import pypdf
from django.utils import timezone
from playwright.sync_api import Page, expect

from specs.models import SuspensionModel
from tests.browser.reading_steps import answer_step, keep_the_wait, read_step
from tests.factories import TorqueToolFactory
from tests.shipped import shipped_checklist
from workshop.intervals.models import Level, ServiceDone
from workshop.models import Ticket, User
from workshop.torque.models import BoltRecord

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]

# What is read on the way, by the reading's key, as it would be typed at the tablet.
READ = {
    "rest_travel": "4 mm",
    "pump_pressure": "80 psi",
    "pressure_set": "82 psi",
    "pressure_recheck": "5.62 bar",
    "rebound_clicks": "7",
    "compression_clicks": "5",
    "sag": "30 mm",
    "oil_drained_air_leg": "6 ml",
    "oil_drained_damper_leg": "9 ml",
    "caliper_torque": "7 N·m",
    "axle_torque": "12 N·m",
    "foot_torque_air_leg": "8 N·m",
    "foot_torque_damper_leg": "8",
    "oil_air_leg": "10 ml",
    "oil_damper_leg": "15 ml",
}


def test_a_fork_goes_from_the_counter_to_the_customers_report(
    desktop: Page,
    tablet: Page,
    sign_in: SignIn,
    axe: Axe,
    people: dict[str, User],
    allowed_problems: list[str],
) -> None:
    allowed_problems += ["status of 422"]  # ready asks what became of the parts, hand-back what they cost
    shipped_checklist("routine-lowers-service")
    TorqueToolFactory(shop=people["mechanic"].shop, low_nm=2.0, high_nm=20.0)
    sign_in(desktop, people["counter"])
    number = _book_in(desktop)
    axe(desktop)

    sign_in(tablet, people["mechanic"])
    _work_to_the_end(tablet, number, allowed_problems)
    axe(tablet)
    assert Ticket.objects.get().state == Ticket.State.READY
    assert {record.bolt for record in BoltRecord.objects.all()} >= {"foot_air_leg", "foot_damper_leg"}

    _hand_back(desktop, number)
    expect(desktop.get_by_role("alert")).to_contain_text("have no price")
    assert Ticket.objects.get().state == Ticket.State.READY
    _price_the_parts(desktop, number)
    _hand_back(desktop, number, paid_by="Card")
    assert Ticket.objects.get().state == Ticket.State.HANDED_BACK
    text = _report(desktop, number)
    assert "It is due, nothing wrong with it." in text
    assert "What we read after the work" in text
    assert "82 psi" in text
    assert "oil put in, spring side: 10 ml, within 9.5 ml to 10.5 ml" in text.lower()
    assert "Next service: Lowers service, by " in text
    served = ServiceDone.objects.get(level=Level.LOWERS).on  # the day its steps were ticked, which the waits moved back
    assert timezone.localdate() - dt.timedelta(days=2) <= served <= timezone.localdate()
    assert f"Counted from the lowers service of {served:%-d %B %Y}: after " in text

    sign_in(desktop, people["owner"])
    desktop.goto(f"/counter/tickets/{number}/")
    expect(desktop.get_by_text("Handed back").first).to_be_visible()
    axe(desktop)


def _book_in(page: Page) -> int:
    culvert = SuspensionModel.objects.get(name="Culvert")
    page.goto("/counter/book-in/")
    page.get_by_label("Name", exact=True).fill("Jana Novák")
    page.get_by_label("Phone", exact=True).fill("0555 010 447")
    page.get_by_label("Make and model").fill("culv")
    page.get_by_text(str(culvert)).click()
    page.get_by_label("Serial").fill("OC-1")
    page.get_by_label("Travel").fill("160")
    page.get_by_label("In the customer’s words").fill("It is due, nothing wrong with it.")
    page.get_by_text("Routine lowers service").click()
    page.get_by_label("Promised for").fill((timezone.localdate() + dt.timedelta(days=2)).isoformat())
    page.get_by_label("Pressure, in psi").fill("80")
    page.get_by_label("Rebound, in clicks").fill("7")
    page.get_by_role("button", name="Book in").click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    return int(page.url.rstrip("/").rsplit("/", 1)[1])


def _work_to_the_end(page: Page, number: int, allowed_problems: list[str]) -> None:
    """Tap the first answer of every step: done, ruled out or proved; type what the step reads."""
    page.goto("/bench/")
    page.get_by_role("button", name=re.compile(r"^Start\s?: ticket")).click()
    page.get_by_role("button", name=re.compile("Start")).first.click()
    for _ in range(60):
        read_step(page, READ.__getitem__)
        keep_the_wait(page)
        answer_step(page, page.get_by_role("group", name="Answer").get_by_role("button").first, allowed_problems)
        page.wait_for_load_state()
        if page.url.rstrip("/").endswith(f"/bench/{number}"):
            break
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("ready", re.IGNORECASE)).first.tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Which parts were used?")
    for used in page.get_by_role("radio", name="Used", exact=True).all():
        used.check()
    with page.expect_navigation():
        page.get_by_role("button", name="Keep this, and it is ready").tap()


def _hand_back(page: Page, number: int, paid_by: str = "") -> None:
    page.goto(f"/counter/tickets/{number}/hand-back/")
    if paid_by:
        page.get_by_role("radio", name=paid_by).check()
    page.get_by_label("Pressure, in psi").fill("82")
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("Hand")).click()


def _price_the_parts(page: Page, number: int) -> None:
    """The shop sells nothing of these yet, so the clerk sets each price as it leaves: one, two, three ... a piece."""
    used = list(Ticket.objects.get().part_lines.filter(status="used").order_by("pk"))
    assert used
    for price, line in enumerate(used, start=1):
        page.goto(f"/bench/{number}/parts/")
        page.get_by_label(f"Price each of {line.title}").fill(f"{price}.50")
        with page.expect_response(lambda answer: answer.request.method == "POST" and answer.ok):
            page.get_by_role("button", name=f"Set price of {line.title}").click()
        expect(page.locator("#part-lines")).to_contain_text(f"{price}.50 EUR")


def _report(page: Page, number: int) -> str:
    """Issue the report as the clerk would, and read the PDF that opens."""
    page.goto(f"/counter/tickets/{number}/")
    token = page.locator("meta[name=csrf-token]").get_attribute("content") or ""
    address = f"/documents/{number}/customer_report/issue/"
    answer = page.request.post(address, headers={"X-CSRFToken": token, "Referer": page.url})
    assert answer.headers["content-type"] == "application/pdf"
    pages = pypdf.PdfReader(io.BytesIO(answer.body())).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())
