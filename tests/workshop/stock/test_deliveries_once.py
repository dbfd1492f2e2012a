"""A delivery is booked once, however often and by however many it is sent, and bottles are bottles."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.at_once import at_once
from tests.factories import PartFactory, StockItemFactory, UserFactory
from tests.forms_on_pages import FoundForm, forms_on
from workshop.models import PurchaseOrder, StockItem, StockMovement, User
from workshop.stock.deliveries import received_lately
from workshop.stock.moving import level_of, receive, write_off
from workshop.stock.ordering import place_order, receive_goods
from workshop.web.day_words import day_in_words

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk(client: Client) -> User:
    member: User = UserFactory()
    client.force_login(member)
    return member


@pytest.fixture
def wiper(clerk: User) -> StockItem:
    return StockItemFactory(shop=clerk.shop, supplier="North", part__description="Wiper, 36 mm")


@pytest.fixture
def oil(clerk: User) -> StockItem:
    part = PartFactory(measure="ml", description="Fell Fluid 5", bottle_ml=500)
    return StockItemFactory(shop=clerk.shop, supplier="North", part=part)


def order_of(item: StockItem, quantity: int) -> PurchaseOrder:
    return place_order(shop=item.shop, supplier="North", quantities={item.pk: Decimal(quantity)}, by=None)


def form_to(client: Client, page: str, target: str) -> FoundForm:
    return next(form for form in forms_on(page, client.get(page).text) if target in form.actions)


def typed_into(form: FoundForm, **values: str) -> dict[str, Any]:
    known = {name: field.values[0] if field.values else "" for name, field in form.fields.items()}
    return {name: value for name, value in known.items() if name != "csrfmiddlewaretoken"} | values


def order_form(client: Client, order: PurchaseOrder, typed: str) -> dict[str, Any]:
    page = reverse("stores:order", args=[order.number])
    form = form_to(client, page, reverse("stores:receive_order", args=[order.number]))
    return typed_into(form, **{f"quantity-{order.lines.get().pk}": typed})


def sent(client: Client, order: PurchaseOrder, data: dict[str, Any]) -> Any:
    return client.post(reverse("stores:receive_order", args=[order.number]), data)


def test_one_form_of_an_order_sent_twice_books_once(client: Client, wiper: StockItem) -> None:
    order = order_of(wiper, 8)
    data = order_form(client, order, "4")
    assert [sent(client, order, data).status_code for _ in range(3)] == [302, 302, 302]
    assert level_of(wiper) == 4


def test_two_at_one_delivery_book_it_once(client: Client, clerk: User, wiper: StockItem) -> None:
    """The second is told who booked what, and pressing again books nothing; only a tick does."""
    order = order_of(wiper, 8)
    mine, theirs = order_form(client, order, "4"), order_form(client, order, "4")
    assert sent(client, order, theirs).status_code == 302
    for _ in range(2):
        answer = sent(client, order, mine)
        assertContains(answer, f"Booked last by {clerk}", status_code=409)
        assertContains(answer, "4 × Wiper, 36 mm", status_code=409)
        assertContains(answer, 'value="4"', status_code=409)
        page = reverse("stores:order", args=[order.number])
        target = reverse("stores:receive_order", args=[order.number])
        shown = next(form for form in forms_on(page, answer.text) if target in form.actions)
        mine = {name: value for name, value in typed_into(shown).items() if name != "besides"}
    assert level_of(wiper) == 4
    assert sent(client, order, mine | {"besides": shown.fields["besides"].values[0]}).status_code == 302
    assert level_of(wiper) == 8


def test_each_booking_is_told_with_who_made_it_and_when(wiper: StockItem) -> None:
    """The second to come decides by it whether the delivery in their hands is booked already."""
    order = order_of(wiper, 8)
    assert received_lately(order) == "Somebody changed this order meanwhile."
    first, second = UserFactory(shop=wiper.shop), UserFactory(shop=wiper.shop)
    morning = timezone.localtime().replace(hour=9, minute=7)
    for by, at, came in ((first, morning - dt.timedelta(days=3), 5), (second, morning, 1)):
        order.refresh_from_db()
        receive_goods(order=order, seen_version=order.version, quantities={order.lines.get().pk: Decimal(came)}, by=by)
        StockMovement.objects.filter(quantity=came).update(at=at)
    assert received_lately(order) == (
        f"Somebody changed this order meanwhile. Booked last by {second}, {day_in_words(morning.date())}, 09:07: "
        f"1 × Wiper, 36 mm. Before that by {first}, {day_in_words(morning.date() - dt.timedelta(days=3))}, 09:07: "
        "5 × Wiper, 36 mm."
    )


def test_a_typing_error_meanwhile_does_not_pass_the_version_on(client: Client, wiper: StockItem) -> None:
    order = order_of(wiper, 8)
    mine, theirs = order_form(client, order, "four"), order_form(client, order, "4")
    sent(client, order, theirs)
    answer = sent(client, order, mine)
    assertContains(answer, "is no number", status_code=422)
    assertContains(answer, 'name="seen_version" value="1"', status_code=422)
    assert sent(client, order, mine | {f"quantity-{order.lines.get().pk}": "4"}).status_code == 409
    assert level_of(wiper) == 4


@pytest.mark.parametrize(("route", "level"), [("stores:receive", 7), ("stores:write_off", 3)])
def test_one_form_of_a_part_sent_twice_moves_once(client: Client, wiper: StockItem, route: str, level: int) -> None:
    receive(item=wiper, quantity=Decimal(5), by=None)
    form = form_to(client, reverse("stores:item", args=[wiper.pk]), reverse(route, args=[wiper.pk]))
    data = typed_into(form, quantity="2", note="Torn")
    for _ in range(2):
        assert client.post(reverse(route, args=[wiper.pk]), data).status_code == 302
    assert level_of(wiper) == level
    data = typed_into(form_to(client, reverse("stores:item", args=[wiper.pk]), reverse(route, args=[wiper.pk])))
    assert uuid.UUID(data["sent_id"]) != StockMovement.objects.latest("pk").sent_id  # a new page, a new movement


@pytest.mark.django_db(transaction=True)
def test_the_same_form_at_once_books_once() -> None:
    item, mark = StockItemFactory(supplier="North"), uuid.uuid4()
    order = order_of(item, 8)
    line = order.lines.get().pk

    def press(number: int) -> int:
        mine = PurchaseOrder.objects.get()
        return len(receive_goods(order=mine, seen_version=1, quantities={line: Decimal(4)}, by=None, sent_id=mark))

    assert at_once(press) == [1] * 6
    assert level_of(item) == 4

    def press_at_the_part(number: int) -> int:
        return receive(item=item, quantity=Decimal(1), by=None, sent_id=mark_of_part).pk

    mark_of_part = uuid.uuid4()
    assert len(set(at_once(press_at_the_part))) == 1
    assert level_of(item) == 5
    write_off(item=item, quantity=Decimal(1), by=None, note="Torn", sent_id=mark_of_part)  # it booked something else
    assert level_of(item) == 5


def test_bottles_are_received_as_what_they_hold(client: Client, oil: StockItem) -> None:
    page = client.get(reverse("stores:item", args=[oil.pk]))
    assertContains(page, "How many bottles came in")
    assertContains(page, "Each holds 500 ml; they are kept in ml.")
    answer = client.post(reverse("stores:receive", args=[oil.pk]), {"quantity": "2"}, follow=True)
    assertContains(answer, "2 × 500 ml came in. Now 1000 ml in the stores.")
    client.post(reverse("stores:receive", args=[oil.pk]), {"quantity": "0,5"})
    assert level_of(oil) == 1250


def test_ml_typed_for_bottles_are_asked(client: Client, oil: StockItem) -> None:
    answer = client.post(reverse("stores:receive", args=[oil.pk]), {"quantity": "500", "note": "N-17"})
    assertContains(answer, "500 bottles would be 250000 ml", status_code=422)
    assertContains(answer, 'value="N-17"', status_code=422)
    assert level_of(oil) == 0


def test_an_order_is_received_in_bottles_too(client: Client, oil: StockItem) -> None:
    order = order_of(oil, 2000)
    page = client.get(reverse("stores:order", args=[order.number]))
    assertContains(page, "Bottles that came now of Fell Fluid 5")
    assertContains(page, "4 full bottles")
    answer = sent(client, order, order_form(client, order, "5"))
    assertContains(answer, "2500 ml is more than the 2000 ml still to come", status_code=422)
    assertNotContains(answer, 'name="besides"', status_code=422)
    assert sent(client, order, order_form(client, order, "3")).status_code == 302
    assert level_of(oil) == 1500
    assertContains(sent(client, order, order_form(client, order, "500")), "would be 250000 ml", status_code=422)
