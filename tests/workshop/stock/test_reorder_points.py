"""Where to order again, from what tickets used and how long deliveries took."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import (
    PartFactory,
    PartLineFactory,
    ShopFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
    UserFactory,
)
from tests.known import known
from workshop.models import OrderLine, PurchaseOrder, Shop, StockItem, StockMovement
from workshop.stock.reorder_points import suggestions_of, take_mark
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def ago(days: int) -> dt.datetime:
    return timezone.now() - dt.timedelta(days=days)


def used(shop: Shop, times: int, *, quantity: int = 1, over: int = 100, **more: object) -> StockItem:
    """An item that tickets used so often within so many days."""
    item = StockItemFactory(shop=shop, **{"lead_days": 10, "reorder_level": 0, **more})
    StockMovementFactory(item=item, quantity=Decimal(1000), at=ago(over))
    ticket = TicketFactory(shop=shop)
    for _ in range(times):
        line = PartLineFactory(ticket=ticket, part=item.part)
        StockMovementFactory(item=item, kind="used", quantity=Decimal(-quantity), part_line=line, at=ago(over // 2))
    return item


def delivered(item: StockItem, number: int, days: int) -> None:
    order = PurchaseOrder.objects.create(shop=item.shop, number=number, supplier="North", ordered_at=ago(days + 1))
    line = OrderLine.objects.create(order=order, item=item, ordered=Decimal(2))
    StockMovementFactory(item=item, quantity=Decimal(1), order_line=line, at=ago(1))
    StockMovementFactory(item=item, quantity=Decimal(1), order_line=line)  # the rest of it, later


def test_what_tickets_used_suggests_a_mark(shop: Shop) -> None:
    item = used(shop, 20)
    (suggestion,) = suggestions_of(shop, item)
    assert (suggestion.use.uses, suggestion.use.quantity, suggestion.use.days) == (20, Decimal(20), 100)
    assert suggestion.point is not None
    assert suggestion.point.mark == 5  # two uses a wait: tests/published/test_reorder_point.py
    assert suggestion.differs
    item.reorder_level = Decimal(5)
    item.save()
    assert not suggestions_of(shop, item)[0].differs


def test_what_was_put_back_written_off_or_used_long_ago_does_not_count(shop: Shop) -> None:
    item = used(shop, 20)
    returned = item.movements.filter(kind="used").first()
    assert returned is not None
    StockMovementFactory(item=item, kind="returned", quantity=-returned.quantity, part_line=returned.part_line)
    StockMovementFactory(item=item, kind="written_off", quantity=Decimal(-40))
    old = item.movements.filter(kind="used").last()
    StockMovement.objects.filter(pk=known(old).pk).update(at=ago(400))
    assert suggestions_of(shop, item)[0].use.uses == 18


def test_days_to_deliver_are_learned_where_nobody_entered_them(shop: Shop) -> None:
    item = used(shop, 20, lead_days=None)
    for number, days in enumerate((2, 30), 1):
        delivered(item, number, days)
    (suggestion,) = suggestions_of(shop, item)
    assert (suggestion.lead_days, suggestion.point) == (None, None)
    delivered(item, 3, 10)
    (suggestion,) = suggestions_of(shop, item)
    assert (suggestion.lead_days, suggestion.learned) == (10, True)
    assert suggestion.point is not None
    item.lead_days = 4
    item.save()
    (suggestion,) = suggestions_of(shop, item)
    assert (suggestion.lead_days, suggestion.learned) == (4, False)


def test_an_item_is_kept_since_its_first_use_even_where_its_first_delivery_was_entered_late(shop: Shop) -> None:
    item = used(shop, 20, over=100)
    StockMovement.objects.filter(item=item, kind="received").update(at=timezone.now())
    assert suggestions_of(shop, item)[0].use.days == 50


def test_only_what_is_used_often_enough_is_in_the_list(shop: Shop) -> None:
    often, _, _ = used(shop, 20), used(shop, 4), used(shop, 20, over=30)
    used(ShopFactory(), 20)
    assert [one.item for one in suggestions_of(shop) if one.point is not None] == [often]


def test_a_mark_is_taken_from_the_version_that_was_seen(shop: Shop) -> None:
    item = used(shop, 20)
    take_mark(item=StockItem.objects.get(pk=item.pk), mark=Decimal(5), seen_version=1, by=None)
    with pytest.raises(StaleVersion):
        take_mark(item=StockItem.objects.get(pk=item.pk), mark=Decimal(9), seen_version=1, by=None)
    item.refresh_from_db()
    assert (item.reorder_level, item.version) == (Decimal(5), 2)


class TestScreens:
    @pytest.fixture(autouse=True)
    def _owner(self, client: Client, shop: Shop) -> None:
        client.force_login(UserFactory(shop=shop, owner=True))

    def test_a_suggestion_is_taken_at_its_item(self, client: Client, shop: Shop) -> None:
        item = used(shop, 20, part=PartFactory(description="Foam ring, odd"))
        page = client.get(reverse("stores:item", args=[item.pk]))
        assertContains(page, "Reorder at 5 from now on")
        assertContains(page, "of 1000 waits")
        assertContains(page, "<svg")
        sent = {"mark": "5", "seen_version": "1"}
        address = reverse("stores:take_reorder_point", args=[item.pk])
        assertContains(client.post(address, sent, follow=True), "“Foam ring, odd” is ordered again at 5.")
        assertContains(client.get(reverse("stores:item", args=[item.pk])), "That is what is set.")
        assertContains(client.post(address, sent, follow=True), "changed “Foam ring, odd” meanwhile")

    def test_what_is_too_little_is_said_and_nothing_suggested(self, client: Client, shop: Shop) -> None:
        seldom, unknown = used(shop, 2), used(shop, 20, lead_days=None)
        assertContains(client.get(reverse("stores:item", args=[seldom.pk])), "too seldom, or for too short a time")
        page = client.get(reverse("stores:item", args=[unknown.pk]))
        assertContains(page, "Enter the days to deliver")
        assertNotContains(page, "from now on")

    @pytest.mark.parametrize("typed", ["", "-1", "many", "1e9"])
    def test_what_is_no_mark_is_refused(self, client: Client, shop: Shop, typed: str) -> None:
        item = used(shop, 20)
        sent = {"mark": typed, "seen_version": "1", "list": "1"}
        client.post(reverse("stores:take_reorder_point", args=[item.pk]), sent, follow=True)
        item.refresh_from_db()
        assert (item.reorder_level, item.version) == (Decimal(0), 1)

    def test_the_list_asks_the_same_however_many(self, client: Client, shop: Shop) -> None:
        address, asked = reverse("stores:reorder_points"), []
        for number in range(4):
            item = used(shop, 20, lead_days=None if number % 2 else 10)
            if number in (1, 3):
                with CaptureQueriesContext(connection) as queries:
                    page = client.get(address)
                assertContains(page, 'name="mark"', count=(number + 1) // 2)
                asked.append(len(queries))
        assert asked[0] == asked[1]
        assertContains(
            client.post(
                reverse("stores:take_reorder_point", args=[item.pk]),
                {"mark": "0", "seen_version": "1", "list": "1"},
                follow=True,
            ),
            "Suggested reorder points",
        )
