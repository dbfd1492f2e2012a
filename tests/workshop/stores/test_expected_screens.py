"""What is expected, on the pages of the stores and on the ticket."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Checklist
from specs.models import KitLine
from tests.factories import (
    ChecklistFactory,
    ComplaintFactory,
    KitLineFactory,
    PartLineFactory,
    ServiceKitFactory,
    ShopFactory,
    StepFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.squeezed import squeezed
from workshop.models import Shop, StockItem, Ticket
from workshop.office.figures.sources import likely_shortages

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(client: Client) -> Shop:
    made: Shop = ShopFactory()
    client.force_login(UserFactory(shop=made, owner=True))
    return made


@pytest.fixture
def service() -> Checklist:
    made: Checklist = ChecklistFactory(complaint=ComplaintFactory(is_routine=True), priors={})
    StepFactory(checklist=made, services=["lowers"])
    Checklist.objects.update(made_at=timezone.now() - dt.timedelta(days=1))  # its steps are kept once it is final
    made.refresh_from_db()
    return made


@pytest.fixture
def line() -> KitLine:
    made: KitLine = KitLineFactory(kit=ServiceKitFactory(), part__role="wiper", part__description="Dust wiper")
    return made


@pytest.fixture
def item(shop: Shop, line: KitLine) -> StockItem:
    made: StockItem = StockItemFactory(shop=shop, part=line.part, supplier="North", lead_days=20, reorder_level=0)
    return made


def booked(shop: Shop, line: KitLine, service: Checklist) -> Ticket:
    unit = SuspensionUnitFactory(shop=shop, model=line.kit.model)
    ticket: Ticket = TicketFactory(shop=shop, customer=unit.customer, unit=unit)
    ticket.complaints.set([service.complaint])
    return ticket


def text(client: Client, name: str, *args: object) -> str:
    return squeezed(client.get(reverse(name, args=args)).content.decode())


def test_the_stock_list_says_it_apart_from_what_stands_on_tickets(
    client: Client, shop: Shop, item: StockItem, line: KitLine, service: Checklist
) -> None:
    booked(shop, line, service)
    PartLineFactory(ticket=TicketFactory(shop=shop), part=line.part, quantity=3)
    page = text(client, "stores:stock")
    assert '<td class="number" data-label="For tickets">3</td>' in page
    assert '<td class="number wide-only" data-label="Expected">1.9 of 2</td>' in page


def test_the_parts_page_names_the_tickets_and_how_likely(
    client: Client, shop: Shop, item: StockItem, line: KitLine, service: Checklist
) -> None:
    ticket = booked(shop, line, service)
    page = text(client, "stores:item", item.pk)
    assert "About 1.9 of 2 pieces" in page
    assert f"Ticket {ticket.number}</a>, promised" in page
    assert ": 2, almost certain" in page
    assert "More than is free and on order: almost certain." in page
    StockMovementFactory(item=item, quantity=2)
    assert "What is free and on order covers it." in text(client, "stores:item", item.pk)


def test_what_is_only_expected_stands_in_to_order_and_is_not_ticked(
    client: Client, shop: Shop, item: StockItem, line: KitLine, service: Checklist
) -> None:
    ticket = booked(shop, line, service)
    page = text(client, "stores:to_order")
    assert f'aria-label="Order {line.part.description}">' in page
    assert "1.9 of 2" in page
    assert f">{ticket.number}</a>, almost certain" in page
    assert 'value="2"' in page
    PartLineFactory(ticket=ticket, part=line.part, quantity=2)
    page = text(client, "stores:to_order")
    assert f'aria-label="Order {line.part.description}" checked>' in page
    assert "1.9 of 2" not in page


def test_what_is_not_kept_is_named_too(client: Client, shop: Shop, line: KitLine, service: Checklist) -> None:
    ticket = booked(shop, line, service)
    page = text(client, "stores:to_order")
    assert "Wanted, but not kept here" in page
    assert f">{ticket.number}</a>(2, almost certain)" in page


def test_the_ticket_says_what_it_is_expected_to_need_until_it_is_on_it(
    client: Client, shop: Shop, item: StockItem, line: KitLine, service: Checklist
) -> None:
    ticket = booked(shop, line, service)
    page = text(client, "bench:parts", ticket.number)
    assert "Expected, not on the ticket yet" in page
    assert 'Dust wiper<span class="soft">almost certain</span>' in page
    client.post(reverse("bench:add_kit", args=[ticket.number]), {"level": "lowers"})
    assert "Expected, not on the ticket yet" not in text(client, "bench:parts", ticket.number)


@pytest.mark.parametrize("name", ["stores:stock", "stores:to_order", "stores:item", "bench:parts"])
def test_as_many_queries_for_many_tickets_as_for_one(
    client: Client, shop: Shop, item: StockItem, line: KitLine, service: Checklist, name: str
) -> None:
    first = booked(shop, line, service)
    args = {"stores:item": [item.pk], "bench:parts": [first.number]}.get(name, [])

    def queries() -> int:
        client.get(reverse(name, args=args))  # what was learned is kept from here on
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse(name, args=args))
        return len(asked)

    few = queries()
    for _ in range(5):
        other: KitLine = KitLineFactory(kit=ServiceKitFactory(), part__role="wiper")
        StockItemFactory(shop=shop, part=other.part, supplier="North")
        booked(shop, other, service)
        booked(shop, line, service)
    assert queries() == few


def test_the_offices_shortages_say_it_apart(
    client: Client, shop: Shop, item: StockItem, line: KitLine, service: Checklist
) -> None:
    ticket = booked(shop, line, service)
    (likely,) = likely_shortages(shop)
    assert (likely.there, likely.expected, likely.most) == (Decimal(0), Decimal("1.9"), Decimal(2))
    assert likely.tickets == [ticket.pk]
    assert likely.chance_short == pytest.approx(0.95)
    page = text(client, "office:figure", "shortages")
    assert "Nothing is short." in page
    assert "Likely to be missing" in page
    assert line.part.number in page
    StockMovementFactory(item=item, quantity=2)
    assert likely_shortages(shop) == []
    assert "What open tickets are likely to need is there or on order." in text(client, "office:figure", "shortages")
