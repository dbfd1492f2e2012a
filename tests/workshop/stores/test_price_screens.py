"""Prices of many parts at once: previewed, kept for a day, undone; who may; and what the stores are worth."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains

from specs.stand_ins import set_stand_in
from tests.factories import PartFactory, PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from tests.squeezed import squeezed
from tests.workshop.charges.test_agreed_tax import at
from workshop.models import NewPrice, PriceChange, PriceUpdate, StockItem, User
from workshop.stock.keeping import change_item
from workshop.stock.moving import count, receive, take_for_line, write_off
from workshop.stock.ordering import place_order
from workshop.stock.price_updates import (
    PricesMoved,
    PricesWanted,
    UndoneAlready,
    change_prices,
    digest_of_rows,
    let_prices_come_due,
    rows_of_update,
    undo_update,
)
from workshop.stock.value import value_on
from workshop.work.adding_parts import add_by_hand
from workshop.work.part_lines import swap_part

# On PostgreSQL a shop's items are asked for first (workshop/stock/shops_movements.py).
NAMES_ITEMS = int(connection.vendor == "postgresql")
pytestmark = pytest.mark.django_db
UP = PricesWanted("price", Decimal(3), Decimal("0.05"))


@pytest.fixture
def owner(client: Client) -> User:
    member: User = UserFactory(role="owner")
    client.force_login(member)
    return member


@pytest.fixture
def items(owner: User) -> list[StockItem]:
    """A wiper at 10.00, a seal at 20.00 from another supplier, and oil at 0.0149 a ml."""
    return [
        StockItemFactory(shop=owner.shop, part=PartFactory(role="wiper"), price=10, cost=4, supplier="Fell Parts"),
        StockItemFactory(shop=owner.shop, part=PartFactory(role="o_ring"), price=20, cost=None, supplier="Moor Seals"),
        StockItemFactory(shop=owner.shop, part=PartFactory(role="oil", measure="ml"), price=Decimal("0.0149"),
                         cost=Decimal("0.0080"), supplier="Fell Parts"),
    ]  # fmt: skip


def prices_now(shop_items: list[StockItem]) -> list[Decimal]:
    return [StockItem.objects.get(pk=item.pk).price for item in shop_items]


def change(owner: User, wanted: PricesWanted = UP, from_on: dt.date | None = None) -> PriceUpdate:
    seen = digest_of_rows(rows_of_update(known_shop(owner), wanted))
    return change_prices(
        shop=known_shop(owner), wanted=wanted, from_on=from_on or timezone.localdate(), seen_digest=seen, by=owner
    )


def known_shop(owner: User) -> Any:
    return owner.shop


class TestChanging:
    def test_all_of_them_at_once_and_back_as_a_whole(self, owner: User, items: list[StockItem]) -> None:
        before = prices_now(items)
        update = change(owner)
        assert prices_now(items) == [Decimal("10.30"), Decimal("20.60"), Decimal("0.0153")]
        assert PriceChange.objects.filter(update=update, by=owner).count() == 3
        assert undo_update(update=update, by=owner) == []
        assert prices_now(items) == before
        with pytest.raises(UndoneAlready):
            undo_update(update=update, by=owner)
        assert prices_now(items) == before

    def test_those_of_a_group_or_a_supplier(self, owner: User, items: list[StockItem]) -> None:
        change(owner, PricesWanted("price", Decimal(10), Decimal("0.10"), role="wiper"))
        assert prices_now(items)[:2] == [Decimal(11), Decimal(20)]
        change(owner, PricesWanted("cost", Decimal(-50), Decimal("0.01"), supplier="Fell Parts"))
        costs = [StockItem.objects.get(pk=item.pk).cost for item in items]
        assert costs == [Decimal(2), None, Decimal("0.0040")]

    def test_they_hold_from_their_day(self, owner: User, items: list[StockItem]) -> None:
        ticket = TicketFactory(shop=owner.shop)
        with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
            update = change(owner, from_on=dt.date(2027, 1, 1))
            let_prices_come_due(items[0].shop_id)
            assert update.is_to_come
            line = add_by_hand(ticket=ticket, part=items[0].part, quantity=Decimal(1), by=None)
            assert line.unit_price == 10
        with at(dt.datetime(2027, 1, 1, 0, 5, tzinfo=dt.UTC)):
            line = add_by_hand(ticket=ticket, part=items[0].part, quantity=Decimal(1), by=None)
            assert line.unit_price == Decimal("10.30")
            undo_update(update=update, by=owner)
        assert prices_now(items)[0] == 10

    def test_what_is_ordered_or_swapped_on_their_day_has_them_though_nobody_opened_a_page(
        self, client: Client, owner: User, items: list[StockItem]
    ) -> None:
        ticket, old = TicketFactory(shop=owner.shop), PartFactory()
        set_stand_in(part=old, other=items[0].part, kind="instead", reason="Fits as well")
        line = PartLineFactory(ticket=ticket, part=old)
        with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
            change(owner, from_on=dt.date(2027, 1, 1))
            change(owner, PricesWanted("cost", Decimal(50), Decimal("0.01")), from_on=dt.date(2027, 1, 2))
        with at(dt.datetime(2027, 1, 1, 0, 5, tzinfo=dt.UTC)):
            assert swap_part(line=line, other=items[0].part, by=None).unit_price == Decimal("10.30")
        with at(dt.datetime(2027, 1, 2, 0, 5, tzinfo=dt.UTC)):
            supplier, quantities = items[0].supplier, {items[0].pk: Decimal(1)}
            order = place_order(shop=known_shop(owner), supplier=supplier, quantities=quantities, by=None)
            assert order.lines.get().cost == 6

    def test_the_page_of_what_is_to_be_ordered_lets_them_come(
        self, client: Client, owner: User, items: list[StockItem]
    ) -> None:
        with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
            change(owner, from_on=dt.date(2027, 1, 1))
        with at(dt.datetime(2027, 1, 1, 0, 5, tzinfo=dt.UTC)):
            client.force_login(owner)
            assert client.get(reverse("stores:to_order")).status_code == 200
        assert prices_now(items)[0] == Decimal("10.30")

    def test_called_off_before_its_day_nothing_ever_changes(self, owner: User, items: list[StockItem]) -> None:
        with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
            undo_update(update=change(owner, from_on=dt.date(2027, 1, 1)), by=owner)
        with at(dt.datetime(2027, 1, 5, 12, tzinfo=dt.UTC)):
            let_prices_come_due(items[0].shop_id)
        assert prices_now(items)[0] == 10
        assert not PriceChange.objects.exists()

    def test_what_somebody_priced_since_stays_theirs(self, owner: User, items: list[StockItem]) -> None:
        update = change(owner)
        StockItem.objects.filter(pk=items[0].pk).update(price=15)
        assert undo_update(update=update, by=owner) == [items[0]]
        assert prices_now(items)[:2] == [Decimal(15), Decimal(20)]

    def test_of_two_at_once_the_slower_changes_nothing(self, owner: User, items: list[StockItem]) -> None:
        seen = digest_of_rows(rows_of_update(known_shop(owner), UP))
        StockItem.objects.filter(pk=items[1].pk).update(price=25)
        with pytest.raises(PricesMoved):
            change_prices(shop=known_shop(owner), wanted=UP, from_on=timezone.localdate(), seen_digest=seen, by=owner)
        assert prices_now(items)[:2] == [Decimal(10), Decimal(25)]

    def test_a_form_that_was_open_meanwhile_is_told(self, client: Client, owner: User, items: list[StockItem]) -> None:
        change(owner)
        sent = {"seen_version": "1", "price": "12", "cost": "4", "reorder_level": "0"}
        assert client.post(reverse("stores:edit", args=[items[0].pk]), sent).status_code == 409

    @pytest.mark.parametrize("day", [dt.date(2026, 12, 2), dt.date(2002, 1, 1), dt.date(2099, 1, 1)])
    def test_a_day_that_cannot_be_is_refused(self, owner: User, items: list[StockItem], day: dt.date) -> None:
        with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)), pytest.raises(ValidationError) as refused:
            change(owner, from_on=day)
        assert list(refused.value.message_dict) == ["from_on"]
        assert prices_now(items)[0] == 10


class TestScreens:
    def ask(self, client: Client, name: str = "prices", **changes: str) -> Any:
        sent = {"what": "price", "role": "", "supplier": "", "percent": "3", "step": "0.05",
                "from_on": timezone.localdate().isoformat()} | changes  # fmt: skip
        send = client.get if name == "prices" else client.post
        return send(reverse(f"stores:{name}"), sent)

    def test_previewed_then_changed_then_undone(self, client: Client, items: list[StockItem]) -> None:
        shown = self.ask(client)
        assert "3 would change, 0 would stay" in squeezed(shown.text)
        assert prices_now(items)[0] == 10
        answer = self.ask(client, "change_prices", digest=shown.context["digest"])
        assert answer.status_code == 302
        assert prices_now(items)[0] == Decimal("10.30")
        assertContains(client.get(answer["Location"]), "Take all of it back")
        client.post(reverse("stores:undo_prices", args=[PriceUpdate.objects.get().pk]))
        assert prices_now(items)[0] == 10
        assertContains(client.get(reverse("stores:prices")), "taken back")

    @pytest.mark.parametrize(
        ("field", "typed", "reason"),
        [
            ("percent", "", "by how much"), ("percent", "0", "by how much"), ("percent", "much", "number of per cent"),
            ("percent", "-100", "from -90 to 300"), ("percent", "5000", "from -90 to 300"),
            ("step", "0.03", "not in the list"),
            ("from_on", "2002-01-01", "over"), ("from_on", "2099-01-01", "too far"), ("from_on", "soon", "2026-12-24"),
            ("role", "wheel", "not in the list"), ("supplier", "Nobody", "not in the list"),
        ],
    )  # fmt: skip
    def test_what_cannot_be_is_said_beside_its_field(
        self, client: Client, items: list[StockItem], field: str, typed: str, reason: str
    ) -> None:
        for name in ("prices", "change_prices"):
            answer = self.ask(client, name, **{field: typed})
            assert answer.status_code == 422
            assert reason in answer.context["form"].errors[field][0]
        assert prices_now(items)[0] == 10

    def test_prices_that_moved_since_the_preview_are_shown_again(self, client: Client, items: list[StockItem]) -> None:
        shown = self.ask(client)
        StockItem.objects.filter(pk=items[0].pk).update(price=50)
        answer = self.ask(client, "change_prices", digest=shown.context["digest"])
        assert answer.status_code == 409
        assertContains(answer, "51.50", status_code=409)
        assert prices_now(items)[0] == 50

    def test_one_price_from_a_day_to_come(self, client: Client, items: list[StockItem]) -> None:
        sent = {"seen_version": "1", "price": "12", "cost": "4", "reorder_level": "0", "shelf": "D4",
                "prices_from": (timezone.localdate() + dt.timedelta(days=30)).isoformat()}  # fmt: skip
        assert client.post(reverse("stores:edit", args=[items[0].pk]), sent).status_code == 302
        item = StockItem.objects.get(pk=items[0].pk)
        assert (item.price, item.shelf) == (Decimal(10), "D4")
        line = NewPrice.objects.get()
        assert (line.what, line.new, line.update.is_to_come) == ("price", Decimal(12), True)
        assertContains(client.get(reverse("stores:item", args=[item.pk])), "12.00")

    def test_one_price_from_a_day_that_is_over(self, client: Client, items: list[StockItem]) -> None:
        sent = {"seen_version": "1", "price": "12", "cost": "4", "reorder_level": "0", "prices_from": "2020-01-01"}
        answer = client.post(reverse("stores:edit", args=[items[0].pk]), sent)
        assert answer.status_code == 422
        assert "over" in answer.context["form"].errors["prices_from"][0]
        assert StockItem.objects.get(pk=items[0].pk).version == 1

    @pytest.mark.parametrize("page", ["prices", "value"])
    def test_the_queries_do_not_grow(
        self, client: Client, items: list[StockItem], page: str, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        receive(item=items[0], quantity=Decimal(2), by=None)
        counted = {"prices": 5, "value": 7 + NAMES_ITEMS}[page]
        for _ in range(2):
            with django_assert_num_queries(counted):
                client.get(reverse(f"stores:{page}"), {"percent": "3", "what": "price", "step": "0.05",
                           "from_on": timezone.localdate().isoformat()} if page == "prices" else {})  # fmt: skip
            for _ in range(5):
                receive(item=StockItemFactory(shop=items[0].shop), quantity=Decimal(2), by=None)


class TestWhoMay:
    def test_who_sets_none_keeps_the_price_whatever_is_sent(self, client: Client, items: list[StockItem]) -> None:
        clerk = UserFactory(shop=items[0].shop)
        client.force_login(clerk)
        sent = {"seen_version": "1", "price": "1", "cost": "1", "reorder_level": "0", "shelf": "E5"}
        assertContains(client.get(reverse("stores:edit", args=[items[0].pk])), "The owner sets them")
        assert client.post(reverse("stores:edit", args=[items[0].pk]), sent).status_code == 302
        item = StockItem.objects.get(pk=items[0].pk)
        assert (item.price, item.cost, item.shelf) == (Decimal(10), Decimal(4), "E5")
        assert client.get(reverse("stores:prices")).status_code == 403

    def test_the_rule_refuses_too(self, items: list[StockItem]) -> None:
        with pytest.raises(ValidationError, match="owner sets prices"):
            change_item(item=items[0], price=Decimal(1), cost=Decimal(4), shelf="", supplier="", lead_days=None,
                        reorder_level=Decimal(0), by=UserFactory(shop=items[0].shop))  # fmt: skip

    def test_the_owner_allows_it_and_no_longer(self, client: Client, owner: User, items: list[StockItem]) -> None:
        clerk = UserFactory(shop=owner.shop)
        for allowed, status in (("1", 200), ("0", 403)):
            client.force_login(owner)
            client.post(reverse("office:staff_prices", args=[clerk.pk]), {"allowed": allowed})
            client.force_login(clerk)
            assert client.get(reverse("stores:prices")).status_code == status


class TestValue:
    def test_it_is_by_what_each_delivery_cost(self, client: Client, owner: User, items: list[StockItem]) -> None:
        item = items[0]
        receive(item=item, quantity=Decimal(10), by=None)  # at the 4.00 that the stores say
        receive(item=item, quantity=Decimal(5), by=None, cost=Decimal("7.00"))
        write_off(item=item, quantity=Decimal(3), by=None, note="torn")
        count(item=item, counted=Decimal(10), by=None)
        line = PartLineFactory(ticket=TicketFactory(shop=owner.shop), part=item.part, quantity=Decimal(4))
        take_for_line(item=item, line=line, by=None)
        (row,) = value_on(known_shop(owner), timezone.localdate()).rows
        assert (row.level, row.average, row.value) == (Decimal(6), Decimal(5), Decimal("30.00"))
        assert row.margin(Decimal(0)) == Decimal("50.0")
        assert row.margin(Decimal(25)) == Decimal("37.5")
        page = squeezed(client.get(reverse("stores:value")).text)
        assert "30.00 EUR" in page
        assert "50.0 %" in page

    def test_on_a_day_before_it_was_what_was_there_then(self, owner: User, items: list[StockItem]) -> None:
        for day, cost in ((dt.date(2026, 12, 1), "4"), (dt.date(2026, 12, 5), "8")):
            with at(dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC)):
                receive(item=items[0], quantity=Decimal(2), by=None, cost=Decimal(cost))
        values = [value_on(known_shop(owner), dt.date(2026, 12, day)).value for day in (0 + 1, 4, 5)]
        assert values == [Decimal("8.00"), Decimal("8.00"), Decimal("24.00")]
        assert value_on(known_shop(owner), dt.date(2026, 11, 30)).rows == []

    def test_what_nobody_knows_the_cost_of_is_said_and_not_counted(
        self, client: Client, owner: User, items: list[StockItem]
    ) -> None:
        receive(item=items[1], quantity=Decimal(2), by=None)
        worth = value_on(known_shop(owner), timezone.localdate())
        assert (worth.value, worth.unknown) == (Decimal(0), 1)
        assertContains(client.get(reverse("stores:value")), "of which no cost is known")

    @pytest.mark.parametrize("day", ["2099-01-01", "soon", "1900-01-01"])
    def test_a_day_that_cannot_be(self, client: Client, items: list[StockItem], day: str) -> None:
        assert client.get(reverse("stores:value"), {"day": day}).status_code == 422
