"""Every page on a phone: nothing scrolls sideways, a row of a list takes few lines, and axe's best practice holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, ViewportSize

if TYPE_CHECKING:
    from tests.full_shop import FullShop
    from workshop.models import User

SignIn = Callable[[Page, "User"], None]
WIDE: ViewportSize = {"width": 390, "height": 844}
NARROW: ViewportSize = {"width": 320, "height": 640}
AREAS = ("bench", "charges", "checklists", "counter", "documents", "intervals", "office", "stores", "sums", "")
"""Names of routes begin with these; the last has none."""
LISTS = (
    "bench:board", "checklists:to_read", "counter:customers", "counter:open_sums", "counter:outlook",
    "counter:takings", "counter:tickets", "counter:today", "office:checklists", "office:figures", "office:reminders",
    "office:reminders_outbox", "office:security_log", "office:specs", "office:staff", "office:system",
    "stores:batches", "stores:kits", "stores:old_parts", "stores:orders", "stores:reorder_points", "stores:stock",
    "stores:stock_takes", "stores:suppliers", "stores:to_order", "stores:torque_tools", "stores:value",
)  # fmt: skip
"""Lists that a shop at work has many rows in."""
READ_IN_FULL = {
    "Columns": "what a file may hold: nothing opens to show the rest of a column",
    "Details of both records": "which of two records goes is decided by these words",
    "Each reading and how far it is off the fit": "figures beside each other, which nothing else shows",
    "How it stands": "what is wrong with the machine and what to do, in sentences",
    "Mechanics": "the hours of seven days",
    "Rows of the file": "what an import would do is read before it is done",
    "Services of this unit": "why a service is due, in a sentence",
    "Settings over the years": "a clicker is compared down the years, setting by setting",
    "The last errors": "what went wrong, word for word",
    "Versions": "who entered and who checked a value, and from which page",
    "What differs": "what two people typed, side by side",
    "What the readings say": "figures beside each other, which nothing else shows",
}
"""Tables whose rows are as long as their words, each with why two lines would not do."""

SIDEWAYS = """() => {
  const page = document.scrollingElement, found = [];
  if (page.scrollWidth > innerWidth) found.push(`the page is ${page.scrollWidth} px wide`);
  for (const one of document.querySelectorAll("body *")) {
    const scrolls = ["auto", "scroll"].includes(getComputedStyle(one).overflowX);
    if (scrolls && one.clientWidth && one.scrollWidth > one.clientWidth + 1 && !one.closest(".visually-hidden"))
      found.push(`${one.className || one.tagName} is ${one.scrollWidth} px wide in ${one.clientWidth}`);
  }
  for (const one of document.querySelectorAll("main .nowrap")) {
    const around = one.parentElement.closest("a, li, td, .card"), right = one.getBoundingClientRect().right;
    if (around && right > around.getBoundingClientRect().right + 1)
      found.push(`“${one.textContent.trim()}” sticks out`);
  }
  return found;
}"""
# Rows of lists that are taller than two lines of text; what is pressed or typed stands in a line of its own below.
TALL_ROWS = """(allowed) => {
  const pressed = "form, input:not([type=checkbox]), select, textarea, .button, details, .field__error";
  const rows = [
    ...document.querySelectorAll("table.data--slips:not(.data--whole) tbody tr:not(.sum)"),
    ...document.querySelectorAll(".job, .bench-row__link, .result"),
  ];
  const linesOf = (row) => {
    const tops = [], walker = document.createTreeWalker(row, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const around = walker.currentNode.parentElement, cell = around.closest("td");
      if (!walker.currentNode.data.trim()) continue;
      if (around.closest(".visually-hidden, .job__tell, .job__reason, .job__digits, .promise__word, .button")) continue;
      if (cell && row.contains(cell) && cell.querySelector(pressed)) continue;
      const range = document.createRange();
      range.selectNodeContents(walker.currentNode);
      for (const box of range.getClientRects())
        if (box.width > 1 && !tops.some((top) => Math.abs(top - (box.top + box.bottom) / 2) < 9))
          tops.push((box.top + box.bottom) / 2);
    }
    return tops.length;
  };
  const tall = rows.map((row) => [linesOf(row), row]).filter(([lines]) => lines > 2)
    .map(([lines, row]) => `${lines} lines: ${row.innerText.replace(/\\s+/g, " ").slice(0, 90)}`);
  const high = rows.filter((row) => !row.querySelector(pressed) && !row.querySelector(".job__reason"))
    .filter((row) => row.getBoundingClientRect().height > 5.75 * 16)
    .map((row) => `${row.getBoundingClientRect().height} px high: ${row.innerText.replace(/\\s+/g, " ").slice(0, 90)}`);
  // A report's row is all its figures: nothing opens to show the rest.
  const whole = [...document.querySelectorAll("table.data--whole:not(.data--figures)")]
    .map((table) => table.closest("[aria-label]")?.getAttribute("aria-label") || table.caption?.textContent)
    .filter((name) => !allowed.includes(name)).map((name) => `“${name}” may not be longer than two lines a row`);
  return [...new Set([...tall, ...high, ...whole])];
}"""
SMALL_WORDS = """() => {
  const small = new Set();
  for (const text of document.querySelectorAll("main figure svg text")) {
    const box = text.getBoundingClientRect(), drawing = text.ownerSVGElement;
    if (!box.width) continue;
    const scale = drawing.getBoundingClientRect().width / drawing.viewBox.baseVal.width;
    const size = parseFloat(getComputedStyle(text).fontSize) * scale;
    if (size < 12) small.add(`“${text.textContent}” is drawn ${size.toFixed(1)} px high`);
  }
  return [...small];
}"""
TWICE = """() => [...document.querySelectorAll("[id]")].map((one) => one.id)
  .filter((id, place, all) => all.indexOf(id) < place).map((id) => `two elements have the id ${id}`)"""
BEST = """async () => (await axe.run(document, { runOnly: ["best-practice"], resultTypes: ["violations"] })).violations
  .flatMap((broken) => broken.nodes.map((node) => `${broken.id}: ${node.html.slice(0, 120)}`))"""


@pytest.fixture
def shop(transactional_db: None) -> FullShop:
    """With a ticket that waits, promised last year: its chips and its day are as long as they get."""
    from tests.factories import TicketFactory  # late: Django first
    from tests.full_shop import full_shop

    made = full_shop("Aldermoor")
    year = timezone.localdate().year - 1
    TicketFactory(shop=made.shop, number=90, waiting=True, promised_on=dt.date(year, 11, 28), booked_at=timezone.now())
    return made


def pages_of(shop: FullShop, area: str) -> list[tuple[str, str]]:
    """Each page that the owner can open in an area: the name of its route, and its address."""
    from urllib.parse import urlencode

    from tests.workshop.test_every_screen import SENT_TOO
    from tests.workshop.test_who_may_enter import ASKS_WHICH, LEAST_SENT, arguments, the_table

    found = []
    for name, row in the_table().items():
        if row["get"] not in {"all", "owner", "counter", "bench"} or name in ASKS_WHICH:
            continue
        if name.rpartition(":")[0] != area:
            continue
        sent: dict[str, Any] = {field: shop.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
        sent |= SENT_TOO.get(name, {})
        address = reverse(name, kwargs=arguments(shop, name, holds_link=False))
        found.append((name, f"{address}?{urlencode(sent)}" if sent else address))
    return found


def opened(page: Page, address: str) -> bool:
    """Whether the address is a page of its own: no file, no part of a page, and nowhere that leads elsewhere."""
    answer = page.request.get(address, max_redirects=0)
    if answer.status != 200 or "<!doctype" not in answer.text()[:40].lower():
        return False
    page.route("**" + address, lambda route: route.fulfill(response=answer), times=1)  # the server makes it once
    page.goto(address)
    return True


def looked_over(page: Page) -> list[str]:
    """What is wrong with the page that is open, in both widths."""
    faults: list[str] = []
    for size in (WIDE, NARROW):
        page.set_viewport_size(size)
        found = page.evaluate(SIDEWAYS) + page.evaluate(TALL_ROWS, list(READ_IN_FULL)) + page.evaluate(SMALL_WORDS)
        faults += [f"at {size['width']} px {fault}" for fault in found]
    page.evaluate(AXE_SCRIPT)
    return faults + list(page.evaluate(TWICE)) + list(page.evaluate(BEST))


@pytest.mark.any_database
@pytest.mark.parametrize("area", AREAS)
def test_no_page_scrolls_sideways_and_best_practice_holds(
    open_screen: Callable[..., Page], sign_in: SignIn, shop: FullShop, area: str
) -> None:
    """Each page of the owner's, opened once and looked at in both widths."""
    page = open_screen("phone", viewport=NARROW)
    sign_in(page, shop.owner)
    faults, looked_at = [], 0
    for name, address in pages_of(shop, area):
        if not opened(page, address):
            continue
        looked_at += 1
        faults += [f"{name}: {fault}" for fault in looked_over(page)]
    assert looked_at
    assert not faults, "\n".join(faults)


@pytest.mark.long
@pytest.mark.any_database
def test_no_row_of_the_demo_shop_takes_more_than_two_lines(
    open_screen: Callable[..., Page], sign_in: SignIn, transactional_db: None
) -> None:
    """Names, states and figures as they are in a shop that has been at work for a while."""
    from workshop.demo.making import make_demo  # late: Django first
    from workshop.models import User

    make_demo()
    page = open_screen("phone", viewport=NARROW)
    sign_in(page, User.objects.get(username="owner"))
    faults = []
    for name in LISTS:
        page.goto(reverse(name))
        faults += [f"{name}: {fault}" for fault in looked_over(page)]
    assert not faults, "\n".join(faults)


@pytest.mark.any_database
def test_what_a_customer_opens_fits_a_phone_and_holds_best_practice(
    open_screen: Callable[..., Page], shop: FullShop
) -> None:
    """The sign-in as well: pages for whoever has no login."""
    from tests.workshop.test_who_may_enter import arguments, the_table  # late: Django first

    page = open_screen("phone", viewport=NARROW)
    page.goto(reverse("customer:page", args=[shop.secret]))  # the link counts from here
    faults, looked_at = [], 0
    for name, row in the_table().items():
        if row["get"] not in {"anyone", "link"}:
            continue
        if opened(page, reverse(name, kwargs=arguments(shop, name, holds_link=row["get"] == "link"))):
            looked_at += 1
            faults += [f"{name}: {fault}" for fault in looked_over(page)]
    assert looked_at >= 4
    assert not faults, "\n".join(faults)
