"""A part that no price list knows is priced or marked free before the ticket is handed back."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from tests.known import known
from tests.squeezed import squeezed
from workshop.models import FinalCharges, PartLine, Ticket, User
from workshop.tickets.settings_record import Settings
from workshop.work.event_words import changes_of
from workshop.work.hand_back import hand_back
from workshop.work.part_lines import PartLineRefused
from workshop.work.part_prices import UnpricedLines, refuse_unpriced, set_line_price, unpriced_lines

pytestmark = pytest.mark.django_db
HTMX: dict[str, Any] = {"HTTP_HX_REQUEST": "true"}


@pytest.fixture
def clerk(client: Client) -> User:
    member: User = UserFactory()
    client.force_login(member)
    return member


@pytest.fixture
def line(clerk: User) -> PartLine:
    """A circlip in words, used on a ticket that is ready."""
    ticket = TicketFactory(shop=clerk.shop, state=Ticket.State.READY)
    return PartLineFactory(ticket=ticket, part=None, words="Odd circlip", quantity=2, unit_price=None, status="used")


def give_back(ticket: Ticket, by: User) -> None:
    hand_back(ticket=ticket, by=by, seen_version=ticket.version, settings=Settings())


def price_url(line: PartLine) -> str:
    return reverse("bench:part_price", args=[line.ticket.number, line.pk])


def test_hand_back_is_refused_in_words_until_it_has_a_price(client: Client, clerk: User, line: PartLine) -> None:
    address = reverse("counter:hand_back", args=[line.ticket.number])
    sent = {"seen_version": line.ticket.version, "seen_settings_version": 0, "remarks": "Runs well"}
    answer = client.post(address, sent)
    assertContains(answer, "“Odd circlip” has no price", status_code=422)
    assertContains(answer, "Runs well", status_code=422)
    assert not FinalCharges.objects.exists()
    client.post(price_url(line), {"price": "4,50", "seen": ""}, **HTMX)
    assert client.post(address, {**sent, "pays_by": "cash"}).status_code == 302
    assert FinalCharges.objects.get().gross == Decimal("9.00")


def test_free_is_said_by_somebody_and_written_down(client: Client, clerk: User, line: PartLine) -> None:
    page = client.post(price_url(line), {"free": "1", "seen": "", "price": ""}, **HTMX)
    assert "<strong>free</strong>" in squeezed(page.text)
    event = known(line.ticket.events.order_by("pk").last())
    assert (event.by, event.changes) == (clerk, {"price_each": [None, "0"]})
    assert [(change.before, change.after) for change in changes_of(event, line.ticket.shop)] == [("no price", "free")]
    give_back(Ticket.objects.get(), clerk)
    assert FinalCharges.objects.get().lines[0]["amount"] == "0.00"


def test_what_was_dropped_or_not_used_needs_no_price(clerk: User, line: PartLine) -> None:
    assert unpriced_lines(line.ticket) == [line]
    for status in ("dropped", "needed"):
        PartLine.objects.update(status=status)
        refuse_unpriced(line.ticket)


def test_many_are_named_and_counted(line: PartLine) -> None:
    for number in range(6):
        PartLineFactory(ticket=line.ticket, part=None, words=f"Shim {number}", unit_price=None, status="used")
    with pytest.raises(UnpricedLines, match=r"“Odd circlip”, “Shim 0”, .*“Shim 3” and 2 more have no price"):
        refuse_unpriced(line.ticket)


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("", "Enter the price, or mark it free."), ("-1", "A price cannot be below zero."),
        ("dear", "Enter a price, for example 4.50."), ("1,250", "could be 1.25 or 1250"),
        ("1e9", "Enter a price, for example 4.50."), ("0.00001", "no more than 4 decimal places"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("headers", [HTMX, {}])
def test_a_price_that_cannot_be_stands_beside_its_line(
    client: Client, line: PartLine, typed: str, reason: str, headers: dict[str, Any]
) -> None:
    answer = client.post(price_url(line), {"price": typed, "seen": ""}, **headers)
    assertContains(answer, reason, status_code=422)
    shown = " ".join(answer.text.split())
    assert f'name="price" inputmode="decimal" autocomplete="off" placeholder="Price" value="{typed}"' in shown
    line.refresh_from_db()
    assert line.unit_price is None


def test_of_two_who_price_it_the_slower_is_told(clerk: User, line: PartLine) -> None:
    first, second = PartLine.objects.get(), PartLine.objects.get()
    set_line_price(line=first, price=Decimal(4), seen=None, by=clerk)
    with pytest.raises(PartLineRefused, match=r"to 4\.00 meanwhile"):
        set_line_price(line=second, price=Decimal(5), seen=None, by=clerk)
    with pytest.raises(PartLineRefused, match=r"to 4\.00 meanwhile"):
        set_line_price(line=PartLine.objects.get(), price=Decimal(5), seen=Decimal(3), by=clerk)
    set_line_price(line=PartLine.objects.get(), price=Decimal(5), seen=Decimal(4), by=clerk)
    assert PartLine.objects.get().unit_price == 5


def test_once_it_is_handed_back_its_prices_stand(clerk: User, line: PartLine) -> None:
    set_line_price(line=line, price=Decimal(4), seen=None, by=clerk)
    give_back(Ticket.objects.get(), clerk)
    with pytest.raises(ValidationError, match="handed back"):
        set_line_price(line=PartLine.objects.get(), price=Decimal(5), seen=Decimal(4), by=clerk)


def test_a_part_of_the_price_list_has_no_field_for_a_price(client: Client, clerk: User) -> None:
    item = StockItemFactory(shop=clerk.shop)
    line = PartLineFactory(ticket=TicketFactory(shop=clerk.shop), part=item.part)
    page = client.get(reverse("bench:parts", args=[line.ticket.number]))
    assertNotContains(page, f'id="price-{line.pk}"')


def test_a_quantity_from_the_list_that_is_refused_keeps_its_part(client: Client, clerk: User) -> None:
    item = StockItemFactory(shop=clerk.shop, part__description="Wiper, 36 mm")
    ticket = TicketFactory(shop=clerk.shop)
    answer = client.post(reverse("bench:add_part", args=[ticket.number]), {"part": item.part.pk, "quantity": "1.400"})
    assertContains(answer, "could be 1.4 or 1400", status_code=422)
    assertContains(answer, f'id="add-{item.part.pk}-error"', status_code=422)
    assertContains(answer, 'value="1.400"', count=1, status_code=422)
    assert not ticket.part_lines.exists()


def test_the_refusal_leads_to_where_the_price_is_set(client: Client, clerk: User, line: PartLine) -> None:
    sent = {"seen_version": line.ticket.version, "seen_settings_version": 0}
    answer = client.post(reverse("counter:hand_back", args=[line.ticket.number]), sent)
    assertContains(answer, f'href="{reverse("bench:parts", args=[line.ticket.number])}"', status_code=422)
