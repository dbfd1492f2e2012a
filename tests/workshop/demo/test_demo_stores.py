"""What the demo shop shows of stores and estimates: an order partly come, an estimate open, one agreed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db.models import Sum

from workshop.demo.making import make_demo
from workshop.models import Agreement, Document, PurchaseOrder, Shop, StockItem, Ticket
from workshop.stock.ordering import open_quantities
from workshop.stock.shortages import stores_standing


@pytest.mark.django_db
def test_the_demo_has_an_order_on_its_way_and_estimates() -> None:
    make_demo()

    order = PurchaseOrder.objects.get()
    still_open = open_quantities(order)
    came = {line.pk: line.ordered - still_open[line.pk] for line in order.lines.all()}
    assert order.closed_at is None
    assert sum(came.values()) > 0
    assert sum(still_open.values()) > 0
    standing = stores_standing(Shop.objects.get())
    assert any(row.missing for row in standing.items), "something is left to order"

    waiting = Ticket.objects.filter(waiting_for="customer")
    estimates = Document.objects.filter(kind="estimate", ticket__in=waiting)
    assert sorted(estimate.answers.count() for estimate in estimates) == [0, 1]
    agreement = Agreement.objects.get()
    assert (agreement.agreed, agreement.amount) == (True, Decimal(agreement.document.data["charges"]["gross"]))

    levels = StockItem.objects.annotate(level=Sum("movements__quantity")).values_list("level", flat=True)
    assert all(level is None or level >= 0 for level in levels)
