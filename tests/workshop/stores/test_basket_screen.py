"""What is to be ordered, changed by two people at once: the second is told what the first made of a row."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import PartFactory, PartLineFactory, StockItemFactory, TicketFactory, UserFactory
from workshop.models import BasketLine, PurchaseOrder, Shop, StockItem

pytestmark = pytest.mark.django_db
PAGE, SEND = reverse("stores:to_order"), reverse("stores:place_order")


@pytest.fixture
def shop(client: Client) -> Shop:
    member = UserFactory(mechanic=True)
    client.force_login(member)
    return member.shop  # type: ignore[return-value]


@pytest.fixture
def other(shop: Shop) -> Client:
    """Somebody else's browser."""
    client = Client()
    client.force_login(UserFactory(shop=shop, first_name="Petra", last_name="Novák"))
    return client


def lacking(shop: Shop, words: str) -> StockItem:
    """Three of it lack for a ticket."""
    item = StockItemFactory(shop=shop, supplier="North", reorder_level=0, part=PartFactory(description=words))
    PartLineFactory(ticket=TicketFactory(shop=shop), part=item.part, quantity=3)
    return item


def shown(page: Any) -> dict[str, Any]:
    """What the one form of the page would send, as it is."""
    text = page.text
    fields: dict[str, Any] = dict(re.findall(r'name="((?:seen|quantity)-\d+)" value="([^"]*)"', text))
    fields["item"] = re.findall(r'name="item" value="(\d+)"[^>]* checked', text)
    return fields | {"supplier": "North", "seen_order": "0"}


def quantities() -> dict[str, Decimal | None]:
    return {line.item.part.description: line.quantity for line in BasketLine.objects.select_related("item__part")}


def test_the_second_at_one_row_is_told_and_loses_nothing(client: Client, other: Client, shop: Shop) -> None:
    wiper, foam = lacking(shop, "Wiper, test"), lacking(shop, "Foam ring, test")
    mine, theirs = shown(client.get(PAGE)), shown(other.get(PAGE))
    theirs |= {f"quantity-{wiper.pk}": "7", f"quantity-{foam.pk}": "5", "keep": "1"}
    assert other.post(SEND, theirs).status_code == 302

    refused = client.post(SEND, mine | {f"quantity-{wiper.pk}": "9", "note": "By Friday", "keep": "1"})
    assert refused.status_code == 409
    assert "“Wiper, test”: Petra Novák made it 7 from North meanwhile; you have 9." in refused.text
    assert "Nothing is kept yet" in refused.text
    again = shown(refused)
    assert (again[f"quantity-{wiper.pk}"], again[f"quantity-{foam.pk}"]) == ("9", "5")
    assert 'value="By Friday"' in refused.text
    assert quantities() == {"Wiper, test": 7, "Foam ring, test": 5}

    assert client.post(SEND, again | {"keep": "1"}).status_code == 302  # having seen it
    assert quantities() == {"Wiper, test": 9, "Foam ring, test": 5}


def test_a_row_that_was_only_looked_at_stays_as_the_other_made_it(client: Client, other: Client, shop: Shop) -> None:
    wiper, foam = lacking(shop, "Wiper, test"), lacking(shop, "Foam ring, test")
    mine, theirs = shown(client.get(PAGE)), shown(other.get(PAGE))
    other.post(SEND, theirs | {f"quantity-{wiper.pk}": "7", "keep": "1"})
    assert client.post(SEND, mine | {f"quantity-{foam.pk}": "4", "keep": "1"}).status_code == 302
    assert quantities() == {"Wiper, test": 7, "Foam ring, test": 4}


def test_what_the_other_left_out_is_told_too(client: Client, other: Client, shop: Shop) -> None:
    wiper = lacking(shop, "Wiper, test")
    mine, theirs = shown(client.get(PAGE)), shown(other.get(PAGE))
    other.post(SEND, theirs | {"item": [], "keep": "1"})
    refused = client.post(SEND, mine | {f"quantity-{wiper.pk}": "9", "keep": "1"})
    assert refused.status_code == 409
    assert "Petra Novák made it left out meanwhile; you have 9." in refused.text
    assert BasketLine.objects.get().left_out


def test_what_the_other_changed_is_not_ordered_unseen(client: Client, other: Client, shop: Shop) -> None:
    wiper = lacking(shop, "Wiper, test")
    mine, theirs = shown(client.get(PAGE)), shown(other.get(PAGE))
    other.post(SEND, theirs | {f"quantity-{wiper.pk}": "7", "keep": "1"})
    refused = client.post(SEND, mine)
    assert refused.status_code == 409
    assert "Petra Novák made it 7 from North meanwhile; you have 3 from North." in refused.text
    assert not PurchaseOrder.objects.exists()
    client.post(SEND, shown(refused))
    assert PurchaseOrder.objects.get().lines.get().ordered == 7


def test_the_same_twice_and_the_same_by_both_is_no_conflict(client: Client, other: Client, shop: Shop) -> None:
    wiper = lacking(shop, "Wiper, test")
    mine = shown(client.get(PAGE)) | {f"quantity-{wiper.pk}": "7", "keep": "1"}
    assert [one.post(SEND, mine).status_code for one in (client, other, client)] == [302, 302, 302]
    assert quantities() == {"Wiper, test": 7}


@pytest.mark.parametrize("seen", ["", "|||", "7", "x|1||North", "7|1|yesterday|", "9" * 400])
def test_a_row_that_says_nothing_of_what_was_seen_does_no_harm(client: Client, shop: Shop, seen: str) -> None:
    wiper = lacking(shop, "Wiper, test")
    sent = shown(client.get(PAGE)) | {f"quantity-{wiper.pk}": "7", f"seen-{wiper.pk}": seen, "keep": "1"}
    assert client.post(SEND, sent).status_code in (302, 409)


def test_who_set_it_back_is_a_change_too(client: Client, other: Client, shop: Shop) -> None:
    wiper = lacking(shop, "Wiper, test")
    client.post(SEND, shown(client.get(PAGE)) | {f"quantity-{wiper.pk}": "7", "keep": "1"})
    mine = shown(client.get(PAGE)) | {f"quantity-{wiper.pk}": "8", "keep": "1"}
    other.post(reverse("stores:as_suggested", args=[wiper.pk]))
    refused = client.post(SEND, mine)
    assert (refused.status_code, "was set back to what is suggested meanwhile; you have 8" in refused.text) == (
        409,
        True,
    )


def test_of_very_many_rows_the_first_are_shown_and_all_on_request(
    client: Client, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("workshop.stores.basket_views.ROWS_A_SUPPLIER", 3)
    items = [lacking(shop, f"Wiper {place}, test") for place in range(4)]
    marks = StockItemFactory.create_batch(2, shop=shop, supplier="North", reorder_level=2)
    few = client.get(PAGE)
    assert len(shown(few)["item"]) == 3
    assert {int(pk) for pk in shown(few)["item"]} <= {item.pk for item in items}
    assert "The first 3 of 6" in few.text
    all_of_them = client.get(PAGE, {"all": "North"})
    assert {int(pk) for pk in shown(all_of_them)["item"]} == {item.pk for item in [*items, *marks]}
    assert "The first" not in all_of_them.text
    # What is typed into a later row stands there still after a refusal.
    last = max(items, key=lambda item: item.part.number)
    refused = client.post(SEND, shown(all_of_them) | {f"quantity-{last.pk}": "two"})
    assert (refused.status_code, shown(refused)[f"quantity-{last.pk}"]) == (422, "two")
