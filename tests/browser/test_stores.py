"""Every screen of the stores, the charges and the bench's hours, for WCAG 2.2, on the three screens of the shop."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from tests.factories import (
    KitLineFactory,
    PartLineFactory,
    ServiceKitFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.known import known
from workshop.charges.agreeing import record_answer
from workshop.charges.labour import charge_minutes
from workshop.demo.prices import make_hours, make_prices
from workshop.documents.issuing import issue
from workshop.models import LabourLine, StockItem, Ticket, User
from workshop.stock.batches import put_into_batch
from workshop.stock.moving import level_of
from workshop.stock.ordering import place_order, receive_goods
from workshop.stock.stock_taking import CountedItem, keep_counts, start_stock_take

Axe = Callable[..., None]
OpenScreen = Callable[..., Page]
SignIn = Callable[[Page, User], None]


@pytest.fixture
def owner(transactional_db: None, monkeypatch: pytest.MonkeyPatch) -> User:
    """A shop with something to see on each screen: a shortage, an order partly come, an estimate and its answer."""
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    owner: User = UserFactory(owner=True)
    shop = known(owner.shop)
    make_prices(shop)
    make_hours(shop)
    unit = SuspensionUnitFactory(shop=shop)
    item = StockItemFactory(shop=shop, supplier="North", lead_days=4)
    StockMovementFactory(item=StockItemFactory(shop=shop, part__measure="ml", part__bottle_ml=500), quantity=730)
    KitLineFactory(kit=ServiceKitFactory(model=unit.model), part=item.part, quantity=2)
    ticket = TicketFactory(shop=shop, unit=unit, customer=unit.customer, price_ceiling=Decimal(20))
    PartLineFactory(ticket=ticket, part=item.part, quantity=2)
    PartLineFactory(ticket=TicketFactory(shop=shop), part=item.part, quantity=9)
    order = place_order(shop=shop, supplier="North", quantities={item.pk: Decimal(3)}, by=owner)
    receive_goods(order=order, seen_version=1, quantities={order.lines.get().pk: Decimal(1)}, by=owner)
    over = timezone.localdate() - dt.timedelta(days=9)
    put_into_batch(item=item, batch_number="24-117", use_by=over, quantity=Decimal(1), by=owner)
    take = start_stock_take(shop=shop, shelf="", blind=False, by_two=False, by=owner)
    level = level_of(item)
    keep_counts(take=take, counts=[CountedItem(item.pk, 10 * level, level)], by=owner)
    charge_minutes(ticket=ticket, words="Look inside", minutes=30, by=owner)
    estimate = issue(ticket=ticket, kind="estimate", by=owner, ticket_address="")
    record_answer(
        document=estimate, agreed=False, how="phone", said_by="Odile", by=owner, seen_digest=estimate.data_digest
    )
    return owner


@pytest.mark.any_database
@pytest.mark.parametrize("screen", ["desktop", "tablet", "phone"])
def test_every_screen_is_within_wcag(
    screen: str, open_screen: OpenScreen, sign_in: SignIn, axe: Axe, owner: User
) -> None:
    page = open_screen(screen)
    sign_in(page, owner)
    item, ticket = StockItem.objects.get(supplier="North"), Ticket.objects.get(price_ceiling=20)
    kit = item.part.kit_lines.get().kit_id
    for address in (
        "/stores/", f"/stores/{item.pk}/", f"/stores/{item.pk}/edit/", "/stores/add/", "/stores/parts/new/",
        f"/stores/parts/{item.part_id}/", "/stores/parts/import/", "/stores/files/", "/stores/to-order/",
        "/stores/orders/", "/stores/orders/1/", "/stores/kits/", f"/stores/kits/{kit}/",
        "/stores/batches/", f"/stores/batches/{item.batches.get().pk}/", f"/charges/{ticket.number}/margin/",
        "/stores/stock-takes/", "/stores/stock-takes/1/", "/stores/stock-takes/1/outcome/",
        f"/charges/{ticket.number}/", f"/bench/{ticket.number}/parts/", "/office/prices/", "/office/hours/",
        "/counter/outlook/",
    ):  # fmt: skip
        page.goto(address)
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{address} scrolls sideways"
        cut = page.evaluate(
            "[...document.querySelectorAll('.table-scroll')].some(e => e.scrollWidth > e.clientWidth + 1)"
        )
        assert not (cut and screen == "phone"), f"{address}: a table scrolls sideways"


def test_refusals_stand_beside_their_fields(
    phone: Page, sign_in: SignIn, axe: Axe, owner: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 422")
    sign_in(phone, owner)
    item = StockItem.objects.get(supplier="North")

    def refused(address: str, label: str, typed: str, button: str, reason: str, group: str = "") -> None:
        phone.goto(address)
        within = phone.get_by_role("group", name=group) if group else phone
        within.get_by_label(label).fill(typed)
        with phone.expect_navigation():
            phone.get_by_role("button", name=button, exact=True).tap()
        field = within.get_by_label(label)
        expect(field).to_have_value(typed)
        expect(field).to_have_accessible_description(reason)
        axe(phone)

    description = item.part.description
    too_many = "9 is more than the 2 still to come of this order. Count again; if that many came, say why in the"
    refused("/stores/orders/1/", f"Receive now of {description}", "9", "Receive delivery", f"{too_many} remark.")
    below = "“-4” cannot be. Enter a quantity that is not below zero."
    refused("/stores/stock-takes/1/", f"Counted of {description}", "-4", "Save counts", below)
    days = "Days to deliver cannot be less than 0."
    refused(f"/stores/{item.pk}/edit/", "Days to deliver", "-3", "Save", days)
    tax = "A tax rate is from 0 to 100 %."
    refused("/office/prices/", "On labour", "200", "Save", tax, group="Tax")


@pytest.mark.any_database
def test_the_same_words_sent_again_from_a_page_opened_later_are_no_second_press(
    desktop: Page, sign_in: SignIn, owner: User
) -> None:
    ticket = LabourLine.objects.get().ticket
    sign_in(desktop, owner)
    for _ in range(2):
        desktop.goto(f"/charges/{ticket.number}/")
        desktop.get_by_label("What was or will be done").first.fill("Second try at the bushing")
        desktop.get_by_label("Minutes").first.fill("20")
        with desktop.expect_navigation():
            desktop.get_by_role("button", name="Add minutes").click()
    assert list(ticket.labour_lines.filter(minutes=20).values_list("words", flat=True)) == [
        "Second try at the bushing", "Second try at the bushing"
    ]  # fmt: skip
