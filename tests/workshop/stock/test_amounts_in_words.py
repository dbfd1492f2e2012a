"""Amounts as the shop's papers and pages say them: ml are never counted as pieces, and nothing counted is said so."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import (
    PartFactory,
    PartLineFactory,
    StockItemFactory,
    TicketFactory,
    TorqueToolFactory,
    UserFactory,
)
from tests.known import known
from tests.logbook import changed, said
from workshop.models import StockItem, StockMovement, User
from workshop.stock.amounts import amount_in_words
from workshop.stock.moving import NotEnoughInStock, level_of, receive
from workshop.stock.stock_taking import start_stock_take
from workshop.stores.torque_forms import _words
from workshop.work.adding_parts import add_by_hand
from workshop.work.part_lines import set_quantity, take_up_again, use_part_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def mechanic(client: Client) -> User:
    member: User = UserFactory(mechanic=True)
    client.force_login(member)
    return member


@pytest.fixture
def oil(mechanic: User) -> StockItem:
    part = PartFactory(measure="ml", description="Fell Fluid 5", bottle_ml=1000)
    return StockItemFactory(shop=mechanic.shop, part=part, price=Decimal("0.05"), shelf="D1")


def test_the_logbook_says_ml_of_what_is_poured(oil: StockItem) -> None:
    receive(item=oil, quantity=Decimal(500), by=None)
    ticket = TicketFactory(shop=oil.shop)
    line = add_by_hand(ticket=ticket, part=oil.part, quantity=Decimal(24), by=None)
    assert said(ticket.events.order_by("pk").last()) == "Parts added: 24 ml of Fell Fluid 5"
    set_quantity(line=line, quantity=Decimal(30), seen=Decimal(24), by=None)
    assert changed(ticket.events.order_by("pk").last()) == {"Quantity": ["24 ml", "30 ml"]}
    use_part_line(line=line, by=None)
    assert said(ticket.events.order_by("pk").last()) == "Part used: 30 ml of Fell Fluid 5"
    take_up_again(line=line, by=None)
    assert said(ticket.events.order_by("pk").last()) == "Part needed again: 30 ml of Fell Fluid 5"


def test_what_is_counted_stays_counted(mechanic: User) -> None:
    line = PartLineFactory(
        ticket=TicketFactory(shop=mechanic.shop), part=None, words="Odd circlip", quantity=Decimal(2)
    )
    use_part_line(line=line, by=None)
    assert said(line.ticket.events.order_by("pk").last()) == "Part used: 2 × Odd circlip"
    assert amount_in_words(Decimal("2.50"), None, "Odd circlip") == "2.5 × Odd circlip"


def test_a_refusal_of_the_stores_says_ml(oil: StockItem) -> None:
    receive(item=oil, quantity=Decimal(10), by=None)
    line = add_by_hand(ticket=TicketFactory(shop=oil.shop), part=oil.part, quantity=Decimal(24), by=None)
    with pytest.raises(NotEnoughInStock, match=r"show 10 ml of “Fell Fluid 5”, so 24 ml cannot go out"):
        use_part_line(line=line, by=None)


@pytest.fixture
def sheet(oil: StockItem) -> str:
    take = start_stock_take(shop=oil.shop, shelf="", blind=False, by_two=False, by=None)
    return reverse("stores:stock_take", args=[take.number])


@pytest.mark.parametrize("typed", ["", "  "])
def test_a_stock_take_of_nothing_does_not_say_that_all_agrees(
    client: Client, oil: StockItem, sheet: str, typed: str
) -> None:
    answer = client.post(sheet, {f"counted-{oil.pk}": typed, f"seen-{oil.pk}": "0.00"})
    assert answer.status_code == 422
    assertContains(answer, "Nothing was counted", status_code=422)
    assertNotContains(answer, "agree", status_code=422)


def test_a_stock_take_says_how_many_were_counted(client: Client, oil: StockItem, sheet: str) -> None:
    sent = {f"counted-{oil.pk}": "1,440", f"seen-{oil.pk}": "0.00"}
    assertContains(client.post(sheet, sent, follow=True), "1 counted and kept.")
    booking = reverse("stores:book_stock_take", args=[1])
    said = client.post(booking, {"seen_version": "1", "reason": "never entered"}, follow=True)
    assertContains(said, "1 differed")
    assert level_of(oil) == 1440


@pytest.mark.parametrize(("typed", "readings"), [("1.400", "1.4 or 1400"), ("1.000", "1 or 1000")])
def test_a_count_that_could_be_two_is_asked_and_the_rest_of_the_shelf_kept(
    client: Client, oil: StockItem, sheet: str, typed: str, readings: str
) -> None:
    other = StockItemFactory(shop=oil.shop, shelf="D2")
    sent = {
        f"counted-{oil.pk}": typed,
        f"seen-{oil.pk}": "0.00",
        f"counted-{other.pk}": "7",
        f"seen-{other.pk}": "0.00",
    }
    answer = client.post(sheet, sent)
    assertContains(answer, f"could be {readings}", count=2, status_code=422)  # above the form and at its field
    assertContains(answer, f'id="counted-{oil.pk}-error"', status_code=422)
    assertContains(answer, f'name="counted-{other.pk}" value="7"', status_code=422)
    assert not StockMovement.objects.exists()


def test_a_torque_tool_without_a_calibration_is_not_called_overdue(client: Client, mechanic: User) -> None:
    tool = TorqueToolFactory(shop=mechanic.shop, number="TW-2", calibrated_on=None, calibrated_until=None)
    page = client.get(reverse("stores:torque_tools"))
    assertContains(page, "No calibration on record")
    assertNotContains(page, "overdue")
    assertNotContains(page, "is-late")
    assert _words(tool, "N·m").endswith(" – no calibration on record")
    tool.calibrated_until = dt.date(2020, 1, 1)
    assert _words(tool, "N·m").endswith(" – calibration overdue")


@pytest.mark.parametrize(("there", "said"), [(1, "1 piece"), (2, "2 pieces"), (0, "0 pieces")])
def test_one_of_a_part_is_one_piece(client: Client, mechanic: User, there: int, said: str) -> None:
    item = StockItemFactory(shop=mechanic.shop, shelf="B2")
    if there:
        receive(item=item, quantity=Decimal(there), by=mechanic)
    take = start_stock_take(shop=known(mechanic.shop), shelf="", blind=False, by_two=False, by=None)
    for page in (reverse("stores:stock"), reverse("stores:stock_take", args=[take.number])):
        assert re.search(rf"\D{said}\b", client.get(page).text), page
