"""What a ticket earns: charged without tax, less what its parts cost by the moving average; a missing cost is said."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains

from tests.factories import PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.charges.warranty import bear
from workshop.models import PartLine, StockItem, TaxRules, Ticket
from workshop.stock.moving import level_of, receive
from workshop.stock.value import value_on
from workshop.work.margin import margin_of
from workshop.work.part_lines import take_up_again, use_part_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket(client: Client) -> Ticket:
    made = ready_ticket("80.00")
    TaxRules.objects.create(shop=made.shop, labour_percent=20, parts_percent=20, prices_include_tax=True)
    client.force_login(UserFactory(shop=made.shop, role="owner"))
    return fresh(made)


def fresh(ticket: Ticket) -> Ticket:
    return Ticket.objects.select_related("shop", "unit__model", "customer").get(pk=ticket.pk)


def stocked(ticket: Ticket, *deliveries: tuple[int, str | None]) -> StockItem:
    """A part of which came so many at such a cost, one after another."""
    item = StockItemFactory(shop=ticket.shop, cost=None)
    for quantity, cost in deliveries:
        receive(item=item, quantity=Decimal(quantity), by=None, cost=None if cost is None else Decimal(cost))
    return item


def used(ticket: Ticket, item: StockItem, quantity: int, price: str = "12.00") -> PartLine:
    line = PartLineFactory(ticket=ticket, part=item.part, quantity=quantity, unit_price=Decimal(price))
    use_part_line(line=PartLine.objects.select_related("part", "ticket__shop").get(pk=line.pk), by=None)
    return line


def test_sales_without_tax_less_cost_on_average(ticket: Ticket) -> None:
    item = stocked(ticket, (10, "4.00"), (5, "7.00"))  # 5.00 on average
    used(ticket, item, 2)
    margin = margin_of(ticket)
    # 80.00 and 24.00 include 20 % tax: 86.67 without it.
    assert (margin.net, margin.known_cost, margin.margin, margin.percent) == (
        Decimal("86.67"), Decimal("10.00"), Decimal("76.67"), Decimal("88.5"),
    )  # fmt: skip


def test_the_cost_is_what_the_stores_are_worth_less(ticket: Ticket) -> None:
    item = stocked(ticket, (7, "3.10"), (9, "4.37"))
    today = timezone.localdate()
    before = value_on(ticket.shop, today).value
    used(ticket, item, 5)
    receive(item=item, quantity=Decimal(4), by=None, cost=Decimal("99.00"))  # what is dearer later changes nothing
    after = value_on(ticket.shop, today).value
    assert abs(margin_of(ticket).known_cost - (before + 396 - after)) <= Decimal("0.01")
    assert level_of(item) == 15


def test_what_was_not_used_after_all_cost_nothing_and_used_again_what_it_cost_then(ticket: Ticket) -> None:
    item = stocked(ticket, (4, "4.00"))
    line = used(ticket, item, 2)
    take_up_again(line=PartLine.objects.select_related("part", "ticket__shop").get(pk=line.pk), by=None)
    assert margin_of(ticket).lines == []
    receive(item=item, quantity=Decimal(4), by=None, cost=Decimal("6.00"))
    use_part_line(line=PartLine.objects.select_related("part", "ticket__shop").get(pk=line.pk), by=None)
    assert margin_of(ticket).known_cost == Decimal("10.00")


def test_a_missing_cost_is_said_and_no_margin_told(client: Client, ticket: Ticket) -> None:
    used(ticket, stocked(ticket, (4, "4.00")), 1)
    used(ticket, stocked(ticket, (4, None)), 1)
    PartLineFactory(ticket=ticket, part=None, words="Odd circlip", unit_price=Decimal(3), status="used")
    margin = margin_of(ticket)
    assert (len(margin.unknown), margin.known_cost, margin.margin, margin.percent) == (2, Decimal("4.00"), None, None)
    page = client.get(reverse("charges:margin", args=[ticket.number]))
    assertContains(page, "without 2 parts of which no cost is known")
    assertContains(page, "not known")


def test_what_a_warranty_bears_costs_the_shop_and_brings_nothing(ticket: Ticket) -> None:
    line = used(ticket, stocked(ticket, (4, "4.00")), 2)
    bear(line=PartLine.objects.select_related("part", "ticket__shop").get(pk=line.pk), warranty="shop", by=None)
    margin = margin_of(ticket)
    assert (margin.net, margin.margin) == (Decimal("66.67"), Decimal("58.67"))
    hand_it_over(ticket, part("cash", "80"))
    assert margin_of(fresh(ticket)).margin == Decimal("58.67")


def test_a_ticket_that_brings_nothing_has_no_per_cent(ticket: Ticket) -> None:
    assert margin_of(fresh(TicketFactory(shop=ticket.shop))).percent is None


def test_the_queries_do_not_grow(
    client: Client, ticket: Ticket, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    used(ticket, stocked(ticket, (4, "4.00")), 1)
    address = reverse("charges:margin", args=[ticket.number])
    client.get(address)
    for _ in range(2):
        with django_assert_num_queries(11):
            client.get(address)
        for _ in range(3):
            used(ticket, stocked(ticket, (4, "4.00"), (2, "9.00")), 1)


@pytest.mark.parametrize("role", ["counter", "mechanic"])
def test_only_the_owner_sees_it(client: Client, ticket: Ticket, role: str) -> None:
    client.force_login(UserFactory(shop=ticket.shop, role=role))
    assert client.get(reverse("charges:margin", args=[ticket.number])).status_code == 403
