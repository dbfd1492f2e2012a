"""A stock-take from its beginning to its booking, counted by one, by two, at once and wrongly."""

from __future__ import annotations

import threading
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.at_once import at_once
from tests.factories import PartFactory, ShopFactory, StockItemFactory, StockMovementFactory, UserFactory
from tests.known import known
from workshop.models import ShelfCount, Shop, StockItem, StockMovement, StockTake, User
from workshop.stock.moving import level_of, receive, write_off
from workshop.stock.stock_taking import (
    BeingCounted,
    CannotBook,
    CountedItem,
    MovedMeanwhile,
    StockTakeOver,
    book_stock_take,
    give_up_stock_take,
    keep_counts,
    sheet_order,
    start_stock_take,
)
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def clerk(shop: Shop) -> User:
    return UserFactory(shop=shop)


def stocked(shop: Shop, quantity: int, **more: Any) -> StockItem:
    item: StockItem = StockItemFactory(shop=shop, **more)
    if quantity:
        StockMovementFactory(item=item, quantity=quantity)
    return item


def begin(shop: Shop, shelf: str = "", *, blind: bool = False, by_two: bool = False) -> StockTake:
    return start_stock_take(shop=shop, shelf=shelf, blind=blind, by_two=by_two, by=None)


def count(take: StockTake, item: StockItem, counted: int, by: User | None = None) -> None:
    keep_counts(take=take, counts=[CountedItem(item.pk, Decimal(counted), level_of(item))], by=by)


def book(take: StockTake, reason: str = "lost", sure: dict[int, Decimal] | None = None) -> int:
    take.refresh_from_db()
    return book_stock_take(take=take, seen_version=take.version, reason=reason, sure=sure or {}, by=None)


class TestRules:
    def test_nothing_moves_before_it_is_booked(self, shop: Shop) -> None:
        right, wrong, left = (stocked(shop, 5) for _ in range(3))
        take = begin(shop)
        count(take, right, 5)
        count(take, wrong, 3)
        assert level_of(wrong) == 5
        assert book(take) == 1
        assert [level_of(one) for one in (right, wrong, left)] == [5, 3, 5]
        assert known(StockMovement.objects.last()).note == f"Stock-take {take.number}: lost"
        assert StockTake.objects.get().state == StockTake.State.BOOKED

    def test_what_moved_after_the_count_moves_both(self, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        count(take, item, 3)
        receive(item=item, quantity=Decimal(10), by=None)
        book(take)
        assert level_of(item) == 13

    def test_what_moved_while_it_was_counted_is_counted_again(self, shop: Shop) -> None:
        moved, wrong = stocked(shop, 5), stocked(shop, 5)
        take = begin(shop)
        receive(item=moved, quantity=Decimal(2), by=None)
        counts = [CountedItem(wrong.pk, Decimal(3), Decimal(5)), CountedItem(moved.pk, Decimal(5), Decimal(5))]
        with pytest.raises(MovedMeanwhile, match=r"now 7"):
            keep_counts(take=take, counts=counts, by=None)
        assert not ShelfCount.objects.exists()

    def test_a_blind_count_is_not_told_the_level_even_when_it_moved(self, shop: Shop) -> None:
        item = stocked(shop, 5)
        with pytest.raises(MovedMeanwhile) as told:
            keep_counts(take=begin(shop, blind=True), counts=[CountedItem(item.pk, Decimal(5), Decimal(4))], by=None)
        assert "now" not in str(told.value)

    def test_more_used_than_was_counted_is_refused_and_nothing_booked(self, shop: Shop) -> None:
        first, item = stocked(shop, 5), stocked(shop, 5)
        take = begin(shop)
        count(take, first, 4)
        count(take, item, 2)
        write_off(item=item, quantity=Decimal(4), by=None, note="torn")
        with pytest.raises(ValidationError, match="Count it again"):
            book(take)
        assert (level_of(first), StockTake.objects.get().state) == (Decimal(5), "counting")

    def test_a_slip_is_asked_about_and_the_tick_is_for_that_count(self, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        count(take, item, 50)
        for sure in ({}, {item.pk: Decimal(60)}):
            with pytest.raises(CannotBook) as asked:
                book(take, sure=sure)
            assert asked.value.doubted == {item.pk}
        assert book(take, sure={item.pk: Decimal(50)}) == 1
        assert level_of(item) == 50

    def test_a_difference_needs_a_reason_and_agreement_does_not(self, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        with pytest.raises(CannotBook, match="Nothing was counted"):
            book(take)
        count(take, item, 4)
        with pytest.raises(CannotBook, match="Say why"):
            book(take, reason="  ")
        count(take, item, 5)
        assert book(take, reason="") == 0
        assert level_of(item) == 5

    def test_two_people_have_to_agree(self, shop: Shop, clerk: User) -> None:
        agreed, one_only, disputed = (stocked(shop, 5) for _ in range(3))
        take = begin(shop, by_two=True)
        for item, mine, other in ((agreed, 4, 4), (one_only, 4, None), (disputed, 4, 3)):
            count(take, item, mine)
            if other is not None:
                count(take, item, other, clerk)
        assert book(take) == 1
        assert [level_of(one) for one in (agreed, one_only, disputed)] == [4, 5, 5]

    def test_shelves_are_in_one_open_stock_take_only(self, shop: Shop) -> None:
        take = begin(shop, "b")
        for shelf in ("B", "B2", ""):
            with pytest.raises(BeingCounted, match=f"stock-take {take.number}"):
                begin(shop, shelf)
        assert begin(shop, "A").number == take.number + 1
        assert start_stock_take(shop=ShopFactory(), shelf="B", blind=False, by_two=False, by=None).number == 1
        give_up_stock_take(take=take, seen_version=1, reason="inventory moved", by=None)
        assert begin(shop, "B2").shelf == "B2"

    def test_one_that_is_over_takes_nothing_more(self, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        count(take, item, 4)
        with pytest.raises(CannotBook, match="Say why it is given up"):
            give_up_stock_take(take=take, seen_version=take.version, reason=" ", by=None)
        take.refresh_from_db()
        give_up_stock_take(take=take, seen_version=take.version, reason="too late", by=None)
        with pytest.raises(StockTakeOver):
            count(take, item, 3)
        with pytest.raises(StockTakeOver):
            book(take)
        assert level_of(item) == 5

    def test_only_what_lies_on_its_shelves_is_counted(self, shop: Shop) -> None:
        mine, elsewhere = stocked(shop, 5, shelf="b2"), stocked(shop, 5, shelf="A1")
        other = stocked(ShopFactory(), 5, shelf="B1")
        take = begin(shop, "B")
        counts = [CountedItem(one.pk, Decimal(1), Decimal(5)) for one in (mine, elsewhere, other)]
        assert keep_counts(take=take, counts=counts, by=None) == 1
        assert ShelfCount.objects.get().item == mine

    def test_the_same_count_sent_twice_is_kept_once(self, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        count(take, item, 4)
        count(take, item, 4)
        assert ShelfCount.objects.count() == 1
        count(take, item, 3)
        count(take, item, 4)
        assert [one.counted for one in ShelfCount.objects.all()] == [4, 3, 4]

    def test_the_sheet_goes_along_the_shelves(self, shop: Shop) -> None:
        places = ("A10", "", "A2", "b1", "A2")
        items = [stocked(shop, 0, shelf=place, part=PartFactory(number=f"N-{n}")) for n, place in enumerate(places)]
        assert sheet_order(begin(shop)) == [items[n].pk for n in (2, 4, 0, 3, 1)]


@pytest.mark.django_db(transaction=True)
def test_two_who_book_it_at_once_book_it_once() -> None:
    item = stocked(ShopFactory(), 5)
    take = begin(item.shop)
    count(take, item, 3)

    def press(_: int) -> str:
        seen = StockTake.objects.get(pk=take.pk)
        gate.wait(timeout=20)
        try:
            return str(book_stock_take(take=seen, seen_version=1, reason="lost", sure={}, by=None))
        except (StaleVersion, StockTakeOver):
            return "late"

    gate = threading.Barrier(6)
    assert sorted(at_once(press)) == ["1"] + ["late"] * 5
    assert (level_of(item), StockMovement.objects.count()) == (Decimal(3), 2)


class TestScreens:
    @pytest.fixture(autouse=True)
    def _owner(self, client: Client, shop: Shop) -> None:
        client.force_login(UserFactory(shop=shop, owner=True))

    def test_from_the_beginning_to_the_booking(self, client: Client, shop: Shop) -> None:
        item, other = stocked(shop, 5, shelf="B2"), stocked(shop, 5, shelf="A1")
        sheet = client.post(reverse("stores:stock_takes"), {"shelf": "b"}, follow=True)
        assertContains(sheet, item.part.number)
        assertNotContains(sheet, other.part.number)
        address = reverse("stores:stock_take", args=[1])
        data = {f"counted-{item.pk}": "4", f"seen-{item.pk}": "5.00"}
        assertContains(client.post(f"{address}?left=1", data, follow=True), "1 counted and kept")
        assertContains(client.get(f"{address}?left=1"), "Nothing is left to count")
        outcome = client.get(reverse("stores:stock_take_outcome", args=[1]))
        assertContains(outcome, "1 counted, 1 differ")
        booking = reverse("stores:book_stock_take", args=[1])
        refused = client.post(booking, {"seen_version": "1", "reason": ""})
        assertContains(refused, "Say why it differs", status_code=422)
        assertContains(client.post(booking, {"seen_version": "1", "reason": "torn"}, follow=True), "1 differed")
        assert level_of(item) == 4
        assertContains(client.post(booking, {"seen_version": "1", "reason": "torn"}), "shown anew", status_code=409)
        assert level_of(item) == 4

    def test_a_slip_is_asked_about_beside_its_row(self, client: Client, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        count(take, item, 50)
        booking = reverse("stores:book_stock_take", args=[take.number])
        asked = client.post(booking, {"seen_version": "1", "reason": "found more"})
        assertContains(asked, "look like a slip", status_code=422)
        assertContains(asked, "field--wrong", status_code=422)
        assertContains(asked, 'value="found more"', status_code=422)
        data = {"seen_version": "1", "reason": "found more", f"sure-{item.pk}": "50.00"}
        assertContains(client.post(booking, data, follow=True), "1 differed")

    def test_a_blind_sheet_shows_neither_level_nor_count(self, client: Client, shop: Shop) -> None:
        item = stocked(shop, 37, part__number="W-A", part__description="Wiper set")
        take = begin(shop, blind=True)
        address = reverse("stores:stock_take", args=[take.number])
        assertNotContains(client.get(address), "Should be")
        count(take, item, 41)
        page = client.get(address)
        assertContains(page, "Counted")
        for figure in (">41", " 41", ">37", " 37"):
            assertNotContains(page, figure)
        assertContains(client.get(reverse("stores:stock_take_outcome", args=[take.number])), "41")

    @pytest.mark.parametrize(
        ("typed", "reason"),
        [("-1", "below zero"), ("a lot", "is no number"), ("1.234", "1.2340 or 1234"), ("1.2345", "two places")],
    )
    def test_what_is_no_count_is_refused(self, client: Client, shop: Shop, typed: str, reason: str) -> None:
        item = stocked(shop, 5)
        address = reverse("stores:stock_take", args=[begin(shop).number])
        answer = client.post(address, {f"counted-{item.pk}": typed, f"seen-{item.pk}": "5"})
        assertContains(answer, reason, status_code=422)
        assertContains(answer, f'value="{typed}"', status_code=422)

    def test_what_moved_has_to_be_counted_again_and_the_rest_is_kept(self, client: Client, shop: Shop) -> None:
        item, other = stocked(shop, 5), stocked(shop, 5)
        address = reverse("stores:stock_take", args=[begin(shop).number])
        data = {f"counted-{item.pk}": "4", f"seen-{item.pk}": "3", f"counted-{other.pk}": "6", f"seen-{other.pk}": "5"}
        answer = client.post(address, data)
        assertContains(answer, "moved while you counted", status_code=409)
        assertContains(answer, f'name="counted-{other.pk}" value="6"', status_code=409)
        assertContains(answer, f'name="counted-{item.pk}" value=""', status_code=409)

    def test_shelves_that_are_counted_already_are_refused_at_the_field(self, client: Client, shop: Shop) -> None:
        begin(shop, "B")
        answer = client.post(reverse("stores:stock_takes"), {"shelf": "B2", "blind": "on"})
        assertContains(answer, "being counted already, in stock-take 1", status_code=422)
        assert "shelf" in answer.context["form"].errors
        assertContains(answer, 'value="B2"', status_code=422)

    def test_given_up_it_books_nothing_and_says_why(self, client: Client, shop: Shop) -> None:
        item = stocked(shop, 5)
        take = begin(shop)
        count(take, item, 4)
        address = reverse("stores:give_up_stock_take", args=[take.number])
        assertContains(client.post(address, {"seen_version": "1"}), "Say why", status_code=422)
        done = client.post(address, {"seen_version": "1", "reason": "shelves rebuilt"}, follow=True)
        assertContains(done, "shelves rebuilt")
        assertContains(done, "was not booked")
        assertNotContains(done, "Book it")
        assert level_of(item) == 5
        again = client.get(reverse("stores:stock_take", args=[take.number]))
        assert again["Location"] == reverse("stores:stock_take_outcome", args=[take.number])

    def test_what_to_count_next_goes_by_worth_and_time(self, client: Client, shop: Shop) -> None:
        stocked(shop, 2, shelf="A1", cost=Decimal(1))
        dear = stocked(shop, 2, shelf="B1", cost=Decimal(100))
        shelves = client.get(reverse("stores:stock_takes")).context["shelves"]
        assert [(one.place, one.parts, one.worth, one.counted_at) for one in shelves] == [
            ("B", 1, 200, None), ("A", 1, 2, None),
        ]  # fmt: skip
        take = begin(shop, "B")
        count(take, dear, 2)
        book(take)
        shelves = client.get(reverse("stores:stock_takes")).context["shelves"]
        assert [one.place for one in shelves] == ["A", "B"]
        assert shelves[1].counted_at is not None

    def test_the_pages_ask_the_same_however_much_there_is(self, client: Client, shop: Shop) -> None:
        take = begin(shop, by_two=True)
        people = [UserFactory(shop=shop) for _ in range(2)]
        asked = []
        for number in range(60):
            item = stocked(shop, 5, shelf=f"{'AB'[number % 2]}{number}")
            for one in people[: 1 + (number % 3 > 0)]:
                count(take, item, 4 - number % 2, one)
            if number in (2, 59):
                asked.append(_asked(client, take))
        assert asked[0] == asked[1]


def _asked(client: Client, take: StockTake) -> list[int]:
    asked = []
    for page in ("stores:stock_takes", "stores:stock_take", "stores:stock_take_outcome"):
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(reverse(page, args=[] if page.endswith("takes") else [take.number]))
        asked.append(len(queries))
    return asked
