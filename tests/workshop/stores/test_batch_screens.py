"""Batches on the screens: received, opened, spilled, counted and put right; asked about where they are taken."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import PartFactory, PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from workshop.models import Batch, OrderLine, PartLine, PurchaseOrder, StockItem, StockMovement
from workshop.stock.batches import batch_named, level_in, without_batch
from workshop.stock.moving import level_of, receive

pytestmark = pytest.mark.django_db


def day(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


@pytest.fixture
def oil(client: Client) -> StockItem:
    owner = UserFactory(role="owner")
    client.force_login(owner)
    part = PartFactory(description="Fell Fluid 5", role="oil", measure="ml", bottle_ml=Decimal(500))
    return StockItemFactory(shop=owner.shop, part=part, cost=Decimal("0.02"), price=Decimal("0.05"))


def came(oil: StockItem, number: str, use_by: dt.date | None, quantity: int) -> Batch:
    batch = batch_named(item=oil, number=number, use_by=use_by, by=None)
    receive(item=oil, quantity=Decimal(quantity), by=None, batch=batch)
    return batch


def post(client: Client, name: str, pk: int, **sent: Any) -> Any:
    return client.post(reverse(f"stores:{name}", args=[pk]), sent)


def test_received_with_its_number_and_day(client: Client, oil: StockItem) -> None:
    sent = {"quantity": "2", "batch_number": "24-117", "use_by": day(200).isoformat()}
    assert post(client, "receive", oil.pk, **sent).status_code == 302
    batch = Batch.objects.get()
    assert (batch.number, batch.use_by, level_in(batch)) == ("24-117", day(200), Decimal(1000))
    page = client.get(reverse("stores:item", args=[oil.pk]))
    assertContains(page, reverse("stores:batch", args=[batch.pk]))
    answer = post(client, "receive", oil.pk, **sent | {"use_by": day(3).isoformat()})
    assert answer.status_code == 422
    assert "here already" in answer.context["receive_form"].errors["use_by"][0]
    answer = post(client, "receive", oil.pk, quantity="2", use_by=day(3).isoformat())
    assert "number" in answer.context["receive_form"].errors["batch_number"][0]
    assert level_of(oil) == 1000


def test_a_part_in_pieces_is_asked_for_a_batch_once_it_has_one(client: Client, oil: StockItem) -> None:
    seals = StockItemFactory(shop=oil.shop)
    receive(item=seals, quantity=Decimal(4), by=None)
    page = client.get(reverse("stores:item", args=[seals.pk]))
    assert "batch_number" not in page.context["receive_form"].fields
    post(client, "put_into_batch", seals.pk, batch_number="S1", quantity="3")
    assert (level_in(Batch.objects.get()), without_batch(seals)) == (Decimal(3), Decimal(1))
    page = client.get(reverse("stores:item", args=[seals.pk]))
    assert "batch_number" in page.context["receive_form"].fields
    answer = post(client, "put_into_batch", seals.pk, batch_number="S2", quantity="2")
    assert (answer.status_code, Batch.objects.count()) == (422, 1)
    assertContains(answer, "1 is there without a batch", status_code=422)
    answer = post(client, "write_off", seals.pk, quantity="2", note="torn")
    assertContains(answer, "write the rest off at its batch", status_code=422)
    assert post(client, "write_off", seals.pk, quantity="1", note="torn").status_code == 302
    assert (level_of(seals), without_batch(seals)) == (Decimal(3), Decimal(0))


def test_opened_spilled_counted_and_put_right(client: Client, oil: StockItem) -> None:
    batch = came(oil, "L-1", day(300), 1500)
    page = client.get(reverse("stores:batch", args=[batch.pk]))
    assert page.context["open_form"].initial["quantity"] == "500"
    opened = {"opened_on": day(0).isoformat(), "quantity": "500", "use_by": day(90).isoformat(), "seen_version": 1}
    answer = post(client, "open_bottle", batch.pk, **opened)
    bottle = Batch.objects.get(bottle_of=batch)
    assert answer["Location"] == reverse("stores:batch", args=[bottle.pk])
    assert post(client, "open_bottle", batch.pk, **opened).status_code == 409
    assert (level_in(batch), level_in(bottle), bottle.use_by) == (Decimal(1000), Decimal(500), day(90))
    assert post(client, "batch_spilled", bottle.pk, quantity="40", note="spilled").status_code == 302
    assert post(client, "batch_spilled", bottle.pk, quantity="40", note=" ").status_code == 422
    assertContains(post(client, "batch_spilled", bottle.pk, quantity="461", note="spilled"),
                   "460 ml is there of batch L-1", status_code=422)  # fmt: skip
    assert post(client, "count_batch", bottle.pk, counted="450").status_code == 302
    assert post(client, "count_batch", bottle.pk, counted="-1").status_code == 422
    assert (level_in(bottle), level_of(oil)) == (Decimal(450), Decimal(1450))
    version = Batch.objects.get(pk=batch.pk).version
    sent = {"batch_number": "L-2", "use_by": day(280).isoformat(), "seen_version": version}
    assert post(client, "correct_batch", batch.pk, **sent).status_code == 302
    assert set(Batch.objects.values_list("number", flat=True)) == {"L-2"}
    assert post(client, "correct_batch", batch.pk, **sent).status_code == 409
    page = client.get(reverse("stores:batch", args=[bottle.pk]))
    assertContains(page, "Bottle opened")
    assert "opened_on" in page.context["correct_form"].fields
    assertContains(page, "Written off")


def test_out_of_date_is_asked_about_on_the_bench_with_what_was_chosen(client: Client, oil: StockItem) -> None:
    old, good = came(oil, "old", day(-2), 100), came(oil, "good", day(50), 100)
    line = PartLineFactory(ticket=TicketFactory(shop=oil.shop), part=oil.part, quantity=Decimal(30))
    address = reverse("bench:use_part", args=[line.ticket.number, line.pk])
    page = client.get(reverse("bench:parts", args=[line.ticket.number]))
    assertContains(page, "Out of date: old")
    answer = client.post(address, {"batch": old.pk})
    assertContains(answer, "which is out of date", status_code=409)
    for hidden in (f'name="out_of_date" value="{old.pk}"', f'name="batch" value="{old.pk}"'):
        assertContains(answer, hidden, status_code=409)
    assert level_in(old) == 100
    client.post(address, {"batch": old.pk, "out_of_date": old.pk})
    assert (level_in(old), level_in(good)) == (Decimal(70), Decimal(100))
    page = client.get(reverse("bench:parts", args=[line.ticket.number]))
    assertContains(page, reverse("stores:batch", args=[old.pk]))
    assertContains(page, "Out of date")
    assertContains(client.get(reverse("stores:batch", args=[old.pk])), f"ticket {line.ticket.number}")


def test_what_is_in_the_unit_already_is_said_to_have_been_out_of_date(client: Client, oil: StockItem) -> None:
    old = came(oil, "old", day(-2), 100)
    ticket = TicketFactory(shop=oil.shop, state="on_the_bench")
    line = PartLineFactory(ticket=ticket, part=oil.part, quantity=Decimal(30))
    sent = {"parts_asked": "1", f"became-{line.pk}": "used", f"quantity-{line.pk}": "30", f"seen-{line.pk}": "30",
            "to": "ready", "seen_version": ticket.version}  # fmt: skip
    answer = client.post(reverse("counter:move", args=[ticket.number]), sent, follow=True)
    assertContains(answer, "used of batch old, which was out of date")
    assert level_in(old) == 70


def test_of_what_has_no_batch(client: Client, oil: StockItem) -> None:
    good = came(oil, "good", day(50), 100)
    receive(item=oil, quantity=Decimal(50), by=None)
    line = PartLineFactory(ticket=TicketFactory(shop=oil.shop), part=oil.part, quantity=Decimal(30))
    client.post(reverse("bench:use_part", args=[line.ticket.number, line.pk]), {"batch": "none"})
    assert (level_in(good), without_batch(oil)) == (Decimal(100), Decimal(20))
    assert PartLine.objects.get().status == "used"


def test_an_order_comes_with_its_batch(client: Client, oil: StockItem) -> None:
    order = PurchaseOrder.objects.create(shop=oil.shop, number=1, supplier="Fell", ordered_at=timezone.now())
    line = OrderLine.objects.create(order=order, item=oil, ordered=Decimal(1000))
    address = reverse("stores:receive_order", args=[1])
    sent = {f"quantity-{line.pk}": "2", f"batch-{line.pk}": "B 9", f"use_by-{line.pk}": "soon", "seen_version": 1}
    answer = client.post(address, sent)
    assertContains(answer, "Enter a day as", status_code=422)
    assertContains(answer, 'value="B 9"', status_code=422)
    assert client.post(address, sent | {f"use_by-{line.pk}": day(90).isoformat()}).status_code == 302
    batch = Batch.objects.get()
    assert (batch.number, batch.use_by, level_in(batch)) == ("B 9", day(90), Decimal(1000))
    assert StockMovement.objects.get().of_batches.get().batch == batch


def test_the_value_is_that_of_its_batches(client: Client, oil: StockItem) -> None:
    came(oil, "A", day(9), 300)
    receive(item=oil, quantity=Decimal(200), by=None)
    page = client.get(reverse("stores:value"))
    (row,) = page.context["worth"].rows
    assert [(one.level, one.value) for one in row.batches] == [(300, Decimal("6.00")), (200, Decimal("4.00"))]
    assert row.value == Decimal("10.00")
    assertContains(page, "batch A:")
    assertContains(page, "without a batch:")


def test_the_queries_do_not_grow(
    client: Client, oil: StockItem, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    batch = came(oil, "A0", day(9), 300)
    ticket = TicketFactory(shop=oil.shop)
    PartLineFactory(ticket=ticket, part=oil.part)
    pages = [(reverse("stores:batches"), 4), (reverse("stores:batch", args=[batch.pk]), 7)]
    for _ in range(2):
        for address, queries in pages:
            with django_assert_num_queries(queries):
                client.get(address)
        for number in range(4):
            came(oil, f"A{number}", day(9), 30)
            came(StockItemFactory(shop=oil.shop), "B", day(-9), 30)
    assertNotContains(client.get(reverse("stores:batches")), "not known")
