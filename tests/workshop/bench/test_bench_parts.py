"""Parts on a ticket, from the screen."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from tests.bench_runs import HTMX, url
from tests.factories import (
    PartLineFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
)
from workshop.models import Ticket
from workshop.stock.moving import level_of

pytestmark = pytest.mark.django_db


def htmx_from(page: str) -> dict[str, str]:
    return {"HX-Request": "true", "HX-Current-URL": f"http://testserver{page}"}


def test_a_part_found_by_words_is_added(bench: Client, ticket: Ticket) -> None:
    item = StockItemFactory(shop=ticket.shop, part__description="Wiper for 35 mm")
    StockMovementFactory(item=item)
    page = bench.get(url("parts", ticket), {"q": "35 wiper"})
    assert [entry.part for entry in page.context["found"]] == [item.part]
    bench.post(url("add_part", ticket), {"part": item.part.pk, "quantity": "2"})
    assert ticket.part_lines.get().quantity == 2


def test_an_empty_line_is_refused_and_what_was_typed_kept(bench: Client, ticket: Ticket) -> None:
    answer = bench.post(url("add_part", ticket), {"words": "", "quantity": "3", "note": "blue"})
    assert answer.status_code == 422
    assert "Choose a part or say in words" in answer.text
    assert 'value="blue"' in answer.text


def test_more_than_there_is_is_refused_beside_the_line(bench: Client, ticket: Ticket) -> None:
    item = StockItemFactory(shop=ticket.shop)
    line = PartLineFactory(ticket=ticket, part=item.part)
    answer = bench.post(url("use_part", ticket, line.pk), **HTMX)
    assert answer.status_code == 422
    assert "receive or count them first" in answer.text


@pytest.mark.parametrize("htmx", [True, False])
def test_what_is_kept_for_another_ticket_is_used_only_once_that_is_said(
    bench: Client, ticket: Ticket, htmx: bool
) -> None:
    item = StockItemFactory(shop=ticket.shop)
    StockMovementFactory(item=item, quantity=Decimal(1))
    sooner = TicketFactory(shop=ticket.shop, promised_on=ticket.promised_on - dt.timedelta(days=3))
    PartLineFactory(ticket=sooner, part=item.part, quantity=Decimal(1))
    line = PartLineFactory(ticket=ticket, part=item.part, quantity=Decimal(1))
    headers = HTMX if htmx else {}
    asked = bench.post(url("use_part", ticket, line.pk), **headers)
    assert asked.status_code == 409
    assert f"kept for ticket {sooner.number} (promised" in asked.text
    pressed = re.search(rf'name="from" value="({sooner.number})"', asked.text)
    assert pressed
    line.refresh_from_db()
    assert line.status == "needed"
    bench.post(url("use_part", ticket, line.pk), {"from": [pressed[1], "x", "9" * 40]}, **headers)
    line.refresh_from_db()
    assert (line.status, level_of(item)) == ("used", Decimal(0))


@pytest.mark.parametrize(("name", "status"), [("drop_part", "dropped"), ("use_part", "used")])
def test_a_line_is_dropped_or_used_and_taken_up_again(bench: Client, ticket: Ticket, name: str, status: str) -> None:
    line = PartLineFactory(ticket=ticket)
    assert bench.post(url(name, ticket, line.pk), **HTMX).status_code == 200
    line.refresh_from_db()
    assert line.status == status
    bench.post(url("part_again", ticket, line.pk), **HTMX)
    line.refresh_from_db()
    assert line.status == "needed"


@pytest.mark.parametrize("typed", ["0", "-1", "many", ""])
def test_a_quantity_that_is_none_is_refused(bench: Client, ticket: Ticket, typed: str) -> None:
    line = PartLineFactory(ticket=ticket)
    answer = bench.post(url("part_quantity", ticket, line.pk), {"quantity": typed, "seen": "1.00"}, **HTMX)
    assert answer.status_code == 422
    assert f'value="{typed or 1}"' in answer.text
    line.refresh_from_db()
    assert line.quantity == 1


def test_the_slower_of_two_quantities_is_told_and_keeps_what_was_typed(bench: Client, ticket: Ticket) -> None:
    line = PartLineFactory(ticket=ticket)
    address = url("part_quantity", ticket, line.pk)
    assert bench.post(address, {"quantity": "3", "seen": "1.00"}, **HTMX).status_code == 200
    answer = bench.post(address, {"quantity": "4", "seen": "1.00"}, **HTMX)
    assert answer.status_code == 409
    assert "to 3 meanwhile" in answer.text
    assert 'value="4"' in answer.text
    line.refresh_from_db()
    assert line.quantity == 3


def test_lines_of_another_shop_are_not_found(bench: Client, ticket: Ticket) -> None:
    line = PartLineFactory()
    assert bench.post(url("drop_part", ticket, line.pk)).status_code == 404


@pytest.mark.parametrize("page", ["bench:ticket", "counter:ticket"])
def test_parts_and_charges_follow_the_tickets_pages(bench: Client, ticket: Ticket, page: str) -> None:
    PartLineFactory(ticket=ticket, part=None, words="Wiper for 35 mm", unit_price=Decimal("12.50"))
    address = url("parts_and_charges", ticket)
    assert f'hx-get="{address}"' in bench.get(reverse(page, args=[ticket.number])).text
    piece = bench.get(address, **HTMX).text
    assert piece.lstrip().startswith("<div")
    for page_too in (piece, bench.get(address).text):
        assert "Wiper for 35 mm" in page_too
        assert re.search(r"<dt>So far</dt><dd>[^<]*12\.50", page_too)


def test_charges_change_with_a_line_that_is_dropped_on_the_tickets_page(bench: Client, ticket: Ticket) -> None:
    line = PartLineFactory(ticket=ticket, unit_price=Decimal("12.50"))
    piece = bench.post(url("drop_part", ticket, line.pk), headers=htmx_from(url("ticket", ticket))).text
    assert 'id="parts-and-charges"' in piece
    assert re.search(r"<dt>So far</dt><dd>[^<]*\b0\.00", piece)
    on_parts = htmx_from(url("parts", ticket))
    assert 'id="parts-and-charges"' not in bench.post(url("part_again", ticket, line.pk), headers=on_parts).text
