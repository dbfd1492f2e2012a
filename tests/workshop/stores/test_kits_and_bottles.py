"""Kits and how often they can be built, bottles, and the screens of parts."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from specs.models import KitLine, Part, ServiceKit
from tests.factories import (
    KitLineFactory,
    PartFactory,
    PartLineFactory,
    ServiceKitFactory,
    ShopFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionModelFactory,
    TicketFactory,
    UserFactory,
)
from workshop.models import Shop, StockItem
from workshop.stock.amounts import bottles_in_words
from workshop.stock.kits import kits_standing, make_kit, put_in_kit, set_kit_quantity
from workshop.stock.sharing import suggested_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def stocked(shop: Shop, quantity: int, **more: Any) -> StockItem:
    item: StockItem = StockItemFactory(shop=shop, **more)
    if quantity:
        StockMovementFactory(item=item, quantity=quantity)
    return item


def standing_of(shop: Shop) -> Any:
    return kits_standing(shop, ServiceKit.objects.prefetch_related("lines__part"))


class TestKits:
    def test_the_scarcest_part_says_how_often(self, shop: Shop) -> None:
        wipers, rings = stocked(shop, 7), stocked(shop, 20)
        kit = ServiceKitFactory()
        KitLineFactory(kit=kit, part=wipers.part, quantity=2)
        KitLineFactory(kit=kit, part=rings.part, quantity=4)
        (standing,) = standing_of(shop)
        assert (standing.times, standing.first_short.part) == (3, wipers.part)
        PartLineFactory(ticket=TicketFactory(shop=shop), part=wipers.part, quantity=4)
        assert standing_of(shop)[0].times == 1

    def test_a_part_not_kept_builds_none(self, shop: Shop) -> None:
        KitLineFactory()
        assert standing_of(shop)[0].times == 0

    def test_a_model_has_one_kit_a_level(self) -> None:
        kit = ServiceKitFactory()
        with pytest.raises(ValidationError, match="has a kit for a lowers service already"):
            make_kit(model=kit.model, level="lowers")
        with pytest.raises(ValidationError):
            make_kit(model=SuspensionModelFactory(), level="polishing")

    def test_a_part_is_in_a_kit_once_and_some_of_it(self) -> None:
        line = KitLineFactory()
        with pytest.raises(ValidationError, match="in this kit already"):
            put_in_kit(kit=line.kit, part=line.part, quantity=Decimal(1))
        with pytest.raises(ValidationError, match="above zero"):
            set_kit_quantity(line=line, quantity=Decimal(0), seen=line.quantity)

    def test_many_kits_take_as_many_queries_as_one(
        self, shop: Shop, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        for _ in range(5):
            KitLineFactory(part=stocked(shop, 3).part)
        with django_assert_num_queries(8):
            assert len(standing_of(shop)) == 5


@pytest.mark.parametrize(
    ("level", "bottle", "words"),
    [
        ("900", "500", "1 full bottle and 400 ml in the open one"),
        ("1000", "500", "2 full bottles"),
        ("130.5", "500", "130.5 ml in the open one"),
        ("0", "500", ""),
        ("900", None, ""),
    ],
)
def test_what_is_poured_is_told_in_bottles(level: str, bottle: str | None, words: str) -> None:
    assert bottles_in_words(Decimal(level), None if bottle is None else Decimal(bottle)) == words


def test_what_is_poured_is_ordered_in_whole_bottles() -> None:
    assert suggested_order(Decimal(0), Decimal(0), Decimal(510), Decimal(0), Decimal(500)) == 1000


class TestScreens:
    @pytest.fixture
    def owner(self, client: Client, shop: Shop) -> None:
        client.force_login(UserFactory(shop=shop, owner=True))

    def test_a_new_part_goes_on_to_its_price(self, client: Client, owner: None) -> None:
        data = {"number": "T-9", "description": "Seal, 35", "role": "wiper", "measure": "piece", "stanchion_mm": "35"}
        answer = client.post(reverse("stores:new_part"), data, follow=True)
        part = Part.objects.get()
        assert part.size == "35 mm stanchion"
        assert f'<option value="{part.pk}" selected>' in answer.content.decode()

    def test_an_unknown_unit_is_refused_and_what_was_typed_stays(self, client: Client, owner: None) -> None:
        data = {"number": "T-9", "description": "Seal, 35", "role": "wiper", "measure": "cups", "bottle_ml": "-3"}
        answer = client.post(reverse("stores:new_part"), data)
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "in pieces or in ml" in page
        assert "above zero" in page
        assert "Seal, 35" in page

    def test_the_slower_of_two_sees_both(self, client: Client, owner: None) -> None:
        part = PartFactory(version=2)
        data = {"number": part.number, "description": "Mine", "role": "wiper", "measure": "piece", "seen_version": "1"}
        answer = client.post(reverse("stores:edit_part", args=[part.pk]), data)
        assert answer.status_code == 409
        assert "Mine" in answer.content.decode()

    def test_a_part_in_use_is_not_taken_off(self, client: Client, owner: None) -> None:
        part = KitLineFactory().part
        answer = client.post(reverse("stores:remove_part", args=[part.pk]), follow=True)
        assert "Remove it from them first" in answer.content.decode()
        assert Part.objects.exists()

    @pytest.mark.parametrize(
        ("field", "typed", "reason"),
        [
            ("lead_days", "-3", "Days to deliver cannot be less than 0."),
            ("lead_days", "soon", "Enter whole days"),
            ("lead_days", "4000", "no more than 365 days"),
            ("price", "-1", "not below zero"),
            ("price", "", "Enter a number."),
            ("cost", "cheap", "Enter a number, for example"),
            ("reorder_level", "-2", "not below zero"),
        ],
    )
    def test_terms_that_cannot_be_are_refused_beside_the_field(
        self, client: Client, owner: None, shop: Shop, field: str, typed: str, reason: str
    ) -> None:
        item = stocked(shop, 1)
        data = {"price": "5", "reorder_level": "1", "lead_days": "2", "seen_version": "1", field: typed}
        answer = client.post(reverse("stores:edit", args=[item.pk]), data)
        assert answer.status_code == 422
        assert reason in answer.context["form"].errors[field][0]
        assert f'aria-describedby="id_{field}_' in answer.text
        assert StockItem.objects.get().version == 1

    def test_of_two_who_change_the_terms_the_slower_sees_both(self, client: Client, owner: None, shop: Shop) -> None:
        item = stocked(shop, 1)
        data = {"price": "5", "reorder_level": "1", "lead_days": "2", "seen_version": "1"}
        assert client.post(reverse("stores:edit", args=[item.pk]), data).status_code == 302
        answer = client.post(reverse("stores:edit", args=[item.pk]), data | {"price": "6"})
        assert answer.status_code == 409
        assert [(one.typed, one.stored) for one in answer.context["differences"]] == [("6.00", "5.00")]
        assert StockItem.objects.get().price == 5
        assert client.post(reverse("stores:edit", args=[item.pk]), data | {"seen_version": "2"}).status_code == 302

    def test_a_kit_is_made_and_changed(self, client: Client, owner: None, shop: Shop) -> None:
        model, item = SuspensionModelFactory(), stocked(shop, 6)
        client.post(reverse("stores:new_kit"), {"model": model.pk, "level": "lowers"})
        kit = ServiceKit.objects.get()
        data = {"part": item.part_id, "quantity": "2"}
        client.post(reverse("stores:add_kit_line", args=[kit.pk]), data)
        assert "Can be built 3 times" in client.get(reverse("stores:kit", args=[kit.pk])).content.decode()
        assert client.post(reverse("stores:add_kit_line", args=[kit.pk]), data).status_code == 422
        line = KitLine.objects.get()
        change = reverse("stores:change_kit_line", args=[kit.pk, line.pk])
        refused = client.post(change, {"quantity": "0", "seen": "2"})
        assert refused.status_code == 422
        assert "Enter a quantity above zero" in refused.text
        assert f'aria-describedby="quantity-{line.pk}-error"' in refused.text
        client.post(change, {"quantity": "3", "seen": "2"})
        assert "3 times" not in client.get(reverse("stores:kits")).content.decode()
        assert "2 times" in client.get(reverse("stores:kits")).content.decode()
        client.post(change, {"out": "1"})
        assert not KitLine.objects.exists()

    def test_a_part_is_looked_for_and_not_chosen_of_ten_thousand(self, client: Client, owner: None) -> None:
        line = KitLineFactory(quantity=4)
        for number in range(30):
            PartFactory(number=f"SEAL-{number}", description="Wiper seal")
        page = reverse("stores:kit", args=[line.kit_id])
        assert "SEAL-" not in client.get(page).text
        found = client.get(page, {"q": "wiper seal"})
        assert found.text.count('Add<span class="visually-hidden">: ') == 20
        part = Part.objects.get(number="SEAL-7")
        sent = {"part": part.pk, "q": "wiper seal", "quantity": "none", "note": "both legs"}
        refused = client.post(reverse("stores:add_kit_line", args=[line.kit_id]), sent)
        assert refused.status_code == 422
        for kept in ('value="none"', 'value="both legs"', 'value="wiper seal"', "Enter a number, for example 2."):
            assert kept in refused.text
        assert f'aria-describedby="takes-{part.pk}-error"' in refused.text
        nothing = client.post(reverse("stores:add_kit_line", args=[line.kit_id]), {"quantity": "1"})
        assert "Find a part first." in nothing.text
        client.post(reverse("stores:add_kit_line", args=[line.kit_id]), sent | {"quantity": "2"})
        assert KitLine.objects.get(part=part).note == "both legs"

    def test_the_slower_of_two_at_a_kit_is_told(self, client: Client, owner: None) -> None:
        line = KitLineFactory(quantity=4)
        change = reverse("stores:change_kit_line", args=[line.kit_id, line.pk])
        slower = client.post(change, {"quantity": "5", "seen": "2"})
        assert slower.status_code == 409
        assert "Somebody set it to 4 meanwhile" in slower.text
        assert 'name="quantity" value="5"' in slower.text
        assert KitLine.objects.get().quantity == 4
        again = re.search(r'name="seen" value="([^"]+)"', slower.text)
        assert again
        client.post(change, {"quantity": "5", "seen": again[1]})
        assert KitLine.objects.get().quantity == 5
        client.post(change, {"out": "1"})
        for sent in ({"out": "1"}, {"quantity": "2", "seen": "5"}):
            assert "took that part out" in client.post(change, sent, follow=True).text

    def test_a_mechanic_reads_kits_and_does_not_change_them(self, client: Client, shop: Shop) -> None:
        client.force_login(UserFactory(shop=shop, mechanic=True))
        assert client.get(reverse("stores:kits")).status_code == 200
        assert client.post(reverse("stores:new_kit")).status_code == 403

    def test_the_item_says_where_it_is_used(self, client: Client, owner: None, shop: Shop) -> None:
        item = stocked(shop, 900, part=PartFactory(measure="ml", bottle_ml=500))
        line = KitLineFactory(part=item.part)
        page = client.get(reverse("stores:item", args=[item.pk])).content.decode()
        assert str(line.kit.model) in page
        assert "1 full bottle and 400 ml in the open one" in page
