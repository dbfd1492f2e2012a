"""One fork whose wipers are short, through every room: an honest day, the purchase order, goods in part, the estimate
agreed on the customer's phone, the parts used, the charges, the balances and the books, all to the cent."""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
import re
from collections.abc import Callable
from decimal import Decimal

import pypdf
import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from specs.models import Part, SuspensionModel
from tests.known import known
from workshop.demo.prices import make_hours, make_prices
from workshop.demo.stock import make_stock
from workshop.models import Agreement, FinalCharges, PurchaseOrder, Shop, StockItem, Ticket, User
from workshop.stock.moving import level_of

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]
WIPERS = "HL-WP-36"

# By hand: wipers 2 × 11.50, foam rings 2 × 2.40, washers 2 × 0.80 and 210 ml of oil at 0.06 are 42.00, of which
# 19 % are 7.98; the lowers service is 65.00, of which 20 % are 13.00.
PARTS_NET, PARTS_TAX, LABOUR_NET, LABOUR_TAX = (Decimal(text) for text in ("42.00", "7.98", "65.00", "13.00"))
TO_PAY = Decimal("127.98")


@pytest.fixture
def shop(people: dict[str, User]) -> Shop:
    """Their shop with the demo's stock, prices and hours; nothing is there of the wipers of 36 mm."""
    shop = known(people["owner"].shop)
    make_stock(shop=shop, by=people["owner"], chance=random.Random(7))
    make_prices(shop)
    make_hours(shop)
    StockItem.objects.filter(part__number=WIPERS).update(lead_days=9)
    return shop


@pytest.mark.usefixtures("shop")
def test_from_a_shortage_to_the_books(
    desktop: Page, tablet: Page, phone: Page, sign_in: SignIn, axe: Axe, people: dict[str, User],
    allowed_problems: list[str],
) -> None:  # fmt: skip
    allowed_problems.append("status of 422")  # a tax of 200 %, and ready without a yes: tried on purpose
    wipers = StockItem.objects.select_related("part").get(part__number=WIPERS)
    before = {item.part.number: level_of(item) for item in StockItem.objects.select_related("part")}

    sign_in(desktop, people["owner"])
    _tax_parts_at_19_percent(desktop)

    sign_in(desktop, people["counter"])
    number = _book_in_on_the_honest_day(desktop)

    sign_in(tablet, people["mechanic"])
    _put_the_kit_on_and_wait(tablet, number)

    order = _order_what_lacks(desktop, number)
    _read_the_purchase_list(desktop, order)
    _receive(desktop, order, wipers, "1")
    tablet.goto("/bench/")
    expect(tablet.get_by_role("heading", name="Parts are here")).to_have_count(0)
    _receive(desktop, order, wipers, "1")
    expect(desktop.get_by_text(f"The parts of ticket {number} are here")).to_be_visible()
    axe(desktop)
    tablet.goto("/bench/")
    expect(tablet.get_by_role("heading", name="Parts are here")).to_be_visible()
    axe(tablet)

    link = _issue_the_estimate(desktop, number)
    _use_the_parts(tablet, number)
    _finish_is_refused(tablet, number)
    _agree_on_the_phone(phone, link)
    axe(phone)
    agreement = Agreement.objects.get()
    assert (agreement.agreed, agreement.how, agreement.amount) == (True, "page", TO_PAY)
    assert agreement.data_digest == agreement.document.data_digest

    tablet.goto(f"/bench/{number}/")
    tablet.get_by_role("button", name="Work done: it is ready").tap()
    expect(tablet.get_by_text("Ready").first).to_be_visible()
    _hand_back(desktop, number)

    final = FinalCharges.objects.get()
    assert (final.net, final.tax, final.gross) == (PARTS_NET + LABOUR_NET, PARTS_TAX + LABOUR_TAX, TO_PAY)
    desktop.goto(f"/charges/{number}/")
    expect(desktop.get_by_role("row", name=re.compile("Total to pay"))).to_contain_text("127.98")
    axe(desktop)
    used = {WIPERS: 2, "HL-FR-36": 2, "HL-CW-10": 2, "HL-OL-L10": 210}
    for item in StockItem.objects.select_related("part"):
        came = 2 if item == wipers else 0
        assert level_of(item) == before[item.part.number] + came - used.get(item.part.number, 0), item
    desktop.goto(f"/stores/{wipers.pk}/")
    rows = desktop.get_by_role("region", name="Stock movements").get_by_role("row")
    assert [row.get_by_role("cell").nth(-1).inner_text() for row in rows.all()[1:]] == ["0", "2", "1"]
    axe(desktop)

    sign_in(desktop, people["owner"])
    assert _books(desktop) == [
        (str(number), "19.00", str(PARTS_NET), str(PARTS_TAX), str(PARTS_NET + PARTS_TAX)),
        (str(number), "20.00", str(LABOUR_NET), str(LABOUR_TAX), str(LABOUR_NET + LABOUR_TAX)),
    ]


def _tax_parts_at_19_percent(page: Page) -> None:
    page.goto("/office/prices/")
    page.locator("#id_parts_percent").fill("200")
    with page.expect_navigation():
        page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#id_parts_percent_error")).to_have_text("A tax rate is from 0 to 100 %.")
    page.locator("#id_parts_percent").fill("19")
    with page.expect_navigation():
        page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Prices and tax are saved")).to_be_visible()


def _book_in_on_the_honest_day(page: Page) -> int:
    quern = SuspensionModel.objects.get(name="Quern")
    page.goto("/counter/book-in/")
    page.get_by_label("Name", exact=True).fill("Jana Novák")
    page.get_by_label("Phone", exact=True).fill("0555 010 447")
    page.get_by_label("Make and model").fill("quer")
    page.get_by_text(str(quern)).click()
    page.get_by_label("Serial").fill("KQ-1")
    page.get_by_label("In the customer’s words").fill("Sticky on small bumps.")
    page.locator("[name=ticket-price_ceiling]").fill("100")
    promise = page.locator("#honest-day")
    expect(promise).to_contain_text("Not there: Wiper, 36 mm stanchion takes 9 days to come (needed:")
    promise.get_by_role("button").click()
    promised = page.get_by_label("Promised for").input_value()
    assert dt.date.fromisoformat(promised) > timezone.localdate() + dt.timedelta(days=9)
    page.get_by_role("button", name="Book in").click()
    page.wait_for_url(re.compile(r"/counter/tickets/\d+/$"))
    assert Ticket.objects.get().promised_on.isoformat() == promised
    return int(page.url.rstrip("/").rsplit("/", 1)[1])


def _put_the_kit_on_and_wait(page: Page, number: int) -> None:
    page.goto(f"/bench/{number}/parts/")
    with page.expect_navigation():
        page.get_by_role("button", name="Lowers service").tap()
    expect(page.get_by_role("listitem").filter(has_text=WIPERS)).to_contain_text("To order")
    page.goto(f"/bench/{number}/")
    with page.expect_navigation():
        page.get_by_role("button", name="Start work").tap()
    with page.expect_navigation():
        page.get_by_role("button", name="For parts").tap()
    assert Ticket.objects.get().waiting_for == "parts"


def _order_what_lacks(page: Page, number: int) -> PurchaseOrder:
    page.goto("/stores/to-order/")
    row = page.get_by_role("row").filter(has_text=WIPERS)
    expect(row).to_contain_text(f"{number}, promised")
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("Order from")).click()
    expect(page.get_by_text("Order 1 is saved")).to_be_visible()
    return PurchaseOrder.objects.get()


def _read_the_purchase_list(page: Page, order: PurchaseOrder) -> None:
    line = order.lines.get(item__part__number=WIPERS)
    pdf = page.request.get(page.get_by_role("link", name="Purchase order (PDF)").get_attribute("href") or "")
    text = " ".join(" ".join(one.extract_text() for one in pypdf.PdfReader(io.BytesIO(pdf.body())).pages).split())
    assert line.cost == Decimal("6.90")  # 60 % of 11.50
    for words in (
        order.supplier,
        WIPERS,
        "Wiper, 36 mm stanchion",
        "36 × 46 × 6.5 mm",
        f"{line.ordered * line.cost:.2f} EUR",
    ):
        assert words in text
    sheet = page.request.get(page.get_by_role("link", name="Purchase order (CSV)").get_attribute("href") or "")
    rows = list(csv.DictReader(io.StringIO(sheet.body().decode("utf-8-sig"))))
    # Kept to four decimals, written to the cent where no more is needed.
    assert [row["cost_each"] for row in rows if row["number"] == WIPERS] == ["6.90"]
    listed = {row["number"]: (Decimal(row["quantity"]), Decimal(row["cost_each"])) for row in rows}
    assert listed == {one.item.part.number: (one.ordered, one.cost) for one in order.lines.select_related("item__part")}


def _receive(page: Page, order: PurchaseOrder, item: StockItem, came: str) -> None:
    page.goto(f"/stores/orders/{order.number}/")
    page.get_by_label(f"Receive now of {item.part.description}").fill(came)
    with page.expect_navigation():
        page.get_by_role("button", name="Receive delivery").click()
    expect(page.get_by_text("Received: it is in the stores.")).to_be_visible()


def _issue_the_estimate(page: Page, number: int) -> str:
    """Labour, the estimate, and the link that the customer is sent."""
    page.goto(f"/charges/{number}/")
    with page.expect_navigation():
        page.get_by_role("button", name=re.compile("Lowers service, 65.00")).click()
    expect(page.get_by_role("row", name=re.compile("Total to pay"))).to_contain_text(f"{TO_PAY}")
    expect(page.get_by_text("Above what was agreed.")).to_be_visible()
    token = page.locator("meta[name=csrf-token]").get_attribute("content") or ""
    headers = {"X-CSRFToken": token, "Referer": page.url}
    pdf = page.request.post(f"/documents/{number}/estimate/issue/", headers=headers).body()
    text = " ".join(pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text().split())
    assert "This is more than the 100.00 EUR price limit set when it was booked in." in text
    assert f"{TO_PAY} EUR" in text
    page.goto(f"/counter/tickets/{number}/")
    with page.expect_navigation():
        page.get_by_role("button", name="Make a link").click()
    return page.get_by_label("Address").input_value()


def _use_the_parts(page: Page, number: int) -> None:
    page.goto(f"/bench/{number}/")
    with page.expect_navigation():
        page.get_by_role("button", name="Back onto the bench").tap()
    lines = page.locator("#part-lines")
    for title in Part.objects.filter(ticket_lines__ticket__number=number).values_list("description", flat=True):
        line = lines.get_by_role("listitem").filter(has_text=title)
        line.get_by_role("button", name=re.compile("^Used")).tap()
        expect(line.get_by_role("button", name=re.compile("^Not used after all"))).to_be_visible()


def _finish_is_refused(page: Page, number: int) -> None:
    page.goto(f"/bench/{number}/")
    with page.expect_navigation():
        page.get_by_role("button", name="Work done: it is ready").tap()
    expect(page.get_by_text("the customer agreed to 100.00 EUR").first).to_be_visible()
    assert Ticket.objects.get().state == Ticket.State.ON_THE_BENCH


def _agree_on_the_phone(page: Page, link: str) -> None:
    page.goto(link)
    expect(page.get_by_text("This is more than the 100.00 EUR")).to_be_visible()
    with page.expect_navigation():
        page.get_by_role("button", name=f"I agree to {TO_PAY} EUR").tap()
    expect(page.get_by_text("You agreed", exact=True)).to_be_visible()


def _hand_back(page: Page, number: int) -> None:
    page.goto(f"/counter/tickets/{number}/hand-back/")
    page.get_by_role("radio", name="Card").check()
    with page.expect_navigation():
        page.get_by_role("button", name="Hand back").click()
    assert Ticket.objects.get().state == Ticket.State.HANDED_BACK


def _books(page: Page) -> list[tuple[str, ...]]:
    page.goto("/office/prices/")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the file").click()
    rows = csv.DictReader(io.StringIO(download.value.path().read_text("utf-8-sig")))
    return [tuple(row[name] for name in ("ticket", "tax_percent", "net", "tax", "gross")) for row in rows]
