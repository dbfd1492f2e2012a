"""Parts that took the place of others: in kits, on tickets, and not twice; found by any number they ever had."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from specs.models import Part, ServiceKit
from specs.stand_ins import add_number, chain_of, set_stand_in, stand_ins_of, superseded_parts
from tests.factories import (
    KitLineFactory,
    PartFactory,
    ServiceKitFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionUnitFactory,
    UserFactory,
)
from tests.factories import TicketFactory as MakeTicket
from workshop.bench.part_search import find_parts
from workshop.models import PartLine, StockItem, Supplier, Ticket
from workshop.stock.stock_list import stock_of
from workshop.stock.suppliers import set_offer
from workshop.work.adding_parts import add_by_hand, add_from_kit
from workshop.work.part_lines import PartLineRefused, drop_part_line, swap_part

pytestmark = pytest.mark.django_db
LEVEL = ServiceKit.Level.LOWERS


@pytest.fixture
def ticket() -> Ticket:
    unit = SuspensionUnitFactory()
    return MakeTicket(shop=unit.shop, customer=unit.customer, unit=unit)


@pytest.fixture
def old(ticket: Ticket) -> Part:
    """The one part of the kit of the ticket's model."""
    part: Part = PartFactory(number="OLD-1")
    KitLineFactory(kit=ServiceKitFactory(model=ticket.unit.model, level=LEVEL), part=part, quantity=2)
    return part


@pytest.fixture
def new() -> Part:
    part: Part = PartFactory(number="NEW-1")
    return part


def superseded(old: Part, new: Part) -> None:
    set_stand_in(part=old, other=new, kind="superseded", reason="No longer made")


def from_kit(ticket: Ticket) -> list[Part | None]:
    return [line.part for line in add_from_kit(ticket=ticket, level=LEVEL, by=None)]


def test_a_kit_takes_what_took_the_place_of_its_part(ticket: Ticket, old: Part, new: Part) -> None:
    superseded(old, new)
    assert from_kit(ticket) == [new]
    line = PartLine.objects.get()
    assert (line.instead_of, line.note) == (old, "instead of OLD-1")
    assert from_kit(ticket) == []


def test_what_is_left_of_the_old_one_is_used_up_first(ticket: Ticket, old: Part, new: Part) -> None:
    StockMovementFactory(item=StockItemFactory(shop=ticket.shop, part=old), quantity=2)
    superseded(old, new)
    assert from_kit(ticket) == [old]


def test_a_row_of_three_is_followed_to_its_end(ticket: Ticket, old: Part, new: Part) -> None:
    newest: Part = PartFactory(number="NEW-2")
    superseded(old, new)
    superseded(new, newest)
    assert chain_of(old.pk, superseded_parts()) == [old.pk, new.pk, newest.pk]
    assert stand_ins_of()[newest.pk] == {old.pk, new.pk}
    assert from_kit(ticket) == [newest]


@pytest.mark.parametrize("kind", ["superseded", "instead"])
def test_a_kit_with_a_swapped_line_is_not_filled_twice(ticket: Ticket, old: Part, new: Part, kind: str) -> None:
    assert from_kit(ticket) == [old]
    set_stand_in(part=old, other=new, kind=kind, reason="Fits as well")
    StockItemFactory(shop=ticket.shop, part=new, price=Decimal("9.50"))
    line = swap_part(line=PartLine.objects.select_related("ticket", "part").get(), other=new, by=None)
    assert (line.part, line.instead_of, line.unit_price) == (new, old, Decimal("9.50"))
    assert from_kit(ticket) == []
    drop_part_line(line=line, by=None)
    assert len(from_kit(ticket)) == 1


def test_the_trace_of_a_swap_holds_when_the_stand_in_is_taken_away(ticket: Ticket, old: Part, new: Part) -> None:
    from_kit(ticket)
    set_stand_in(part=old, other=new, kind="instead", reason="Fits as well")
    swap_part(line=PartLine.objects.select_related("ticket", "part").get(), other=new, by=None)
    old.stand_ins.all().delete()
    assert from_kit(ticket) == []


def test_one_put_on_by_hand_counts_for_the_kit(ticket: Ticket, old: Part, new: Part) -> None:
    set_stand_in(part=old, other=new, kind="instead", reason="Fits as well")
    add_by_hand(ticket=ticket, part=new, quantity=Decimal(2), by=None)
    assert from_kit(ticket) == []


def test_a_part_nobody_named_is_no_swap_and_a_used_line_stays(ticket: Ticket, old: Part, new: Part) -> None:
    from_kit(ticket)
    line = PartLine.objects.select_related("ticket", "part").get()
    with pytest.raises(PartLineRefused, match="Nobody said"):
        swap_part(line=line, other=new, by=None)
    set_stand_in(part=old, other=new, kind="instead", reason="Fits as well")
    PartLine.objects.update(status="used")
    with pytest.raises(PartLineRefused, match="changed meanwhile"):
        swap_part(line=line, other=new, by=None)


def test_what_cannot_stand_in(old: Part, new: Part) -> None:
    superseded(old, new)
    oil = PartFactory(measure="ml", role="oil")
    for part, other, reason, why in (
        (new, old, "Back", "circle"), (new, new, "Same", "itself"), (new, oil, "Wet", "counted in ml"),
        (new, PartFactory(), " ", "Say why"),
    ):  # fmt: skip
        with pytest.raises(ValidationError, match=why):
            set_stand_in(part=part, other=other, kind="superseded", reason=reason)


def test_found_by_any_number(ticket: Ticket, old: Part) -> None:
    item = StockItemFactory(shop=ticket.shop, part=old)
    supplier = Supplier.objects.create(shop=ticket.shop, name="North")
    StockItemFactory(shop=ticket.shop)
    set_offer(item=item, supplier=supplier, number="NX 77-0042", pack=Decimal(1), price=None)
    add_number(part=old, kind="former", number="FORM-88123")
    add_number(part=old, kind="code", number="4999999000012")
    for typed in ("77-0042", "nx 77-0042", "form-88", "4999999000012", "OLD-1"):
        assert list(stock_of(ticket.shop, wanted=typed)) == [item], typed
        assert [found.part for found in find_parts(ticket.shop, typed)] == [old], typed
    elsewhere = StockItemFactory()
    assert [found.part for found in find_parts(elsewhere.shop, "77-0042")] == []  # another shop's supplier


def test_a_code_is_of_one_part(old: Part, new: Part) -> None:
    add_number(part=old, kind="code", number="4999999000012")
    with pytest.raises(ValidationError, match="A code is of one part"):
        add_number(part=new, kind="code", number="4999999000012")


def test_a_scanned_code_opens_its_part(client: Client, ticket: Ticket, old: Part) -> None:
    client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
    item = StockItemFactory(shop=ticket.shop, part=old)
    add_number(part=old, kind="code", number="4999999000012")
    answer = client.get(reverse("stores:stock"), {"q": "4999999000012"})
    assert (answer.status_code, answer["Location"]) == (302, reverse("stores:item", args=[item.pk]))
    assert client.get(reverse("stores:stock"), {"q": "499999900001"}).status_code == 200


def test_numbers_and_stand_ins_are_kept_on_a_page_with_its_refusals(
    client: Client, ticket: Ticket, old: Part, new: Part
) -> None:
    client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
    page = reverse("stores:part_numbers", args=[old.pk])
    assert client.post(page, {"what": "number", "kind": "former", "number": "F-9"}).status_code == 302
    sent = {"what": "stand_in", "kind": "superseded", "other": "new-1", "reason": "No longer made"}
    assert client.post(page, sent).status_code == 302
    shown = client.get(page).text
    assert "F-9" in shown
    assert "No longer made" in shown
    wrong = client.post(page, sent | {"other": "X-0", "reason": "Why not"})
    assert (wrong.status_code, "No part of the list has that number." in wrong.text) == (422, True)
    assert 'value="Why not"' in wrong.text
    away = reverse("stores:remove_part_number", args=[old.pk])
    client.post(away, {"key": old.stand_ins.get().pk, "stand_in": "1"})
    client.post(away, {"key": old.other_numbers.get().pk})
    assert not old.stand_ins.exists()
    assert not old.other_numbers.exists()


def test_a_swap_is_one_press_on_the_ticket(client: Client, ticket: Ticket, old: Part, new: Part) -> None:
    client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
    set_stand_in(part=old, other=new, kind="instead", reason="Fits as well")
    add_by_hand(ticket=ticket, part=old, quantity=Decimal(1), by=None)
    line = PartLine.objects.get()
    page = client.get(reverse("bench:parts", args=[ticket.number])).text
    assert f"Take {new} instead of OLD-1" in page
    address = reverse("bench:swap_part", args=[ticket.number, line.pk])
    client.post(address, {"other": new.pk})
    line.refresh_from_db()
    assert (line.part, line.instead_of) == (new, old)


def test_what_a_swap_costs_more_is_said_where_it_is_offered(
    client: Client, ticket: Ticket, old: Part, new: Part
) -> None:
    client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
    StockItemFactory(shop=ticket.shop, part=old, price=Decimal("7.00"))
    item = StockItemFactory(shop=ticket.shop, part=new, price=Decimal("9.50"))
    add_by_hand(ticket=ticket, part=old, quantity=Decimal(1), by=None)
    superseded(old, new)
    page = reverse("bench:parts", args=[ticket.number])
    assert "2.50 EUR more each" in client.get(page).text
    to_order = client.get(reverse("stores:to_order"))
    assert "Take NEW-1 instead of OLD-1" in to_order.text
    assert "2.50 EUR more each" in to_order.text
    for price, words in ((Decimal("6.00"), "1.00 EUR less each"), (Decimal("7.00"), "the same price")):
        StockItem.objects.filter(pk=item.pk).update(price=price)
        assert words in client.get(page).text
    item.delete()
    assert "it has no price yet" in client.get(page).text


def test_to_order_swaps_what_waits_although_the_new_part_is_there(
    client: Client, ticket: Ticket, old: Part, new: Part
) -> None:
    """Nothing has to be ordered then, and the ticket waits all the same until somebody swaps."""
    client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
    StockItemFactory(shop=ticket.shop, part=old)
    StockMovementFactory(item=StockItemFactory(shop=ticket.shop, part=new, price=Decimal("9.50")), quantity=5)
    add_by_hand(ticket=ticket, part=old, quantity=Decimal(1), by=None)
    superseded(old, new)
    line = PartLine.objects.get()
    assert "Waiting for a superseded part" in client.get(reverse("stores:to_order")).text
    address = reverse("stores:swap_superseded", args=[line.pk])
    done = client.post(address, {"other": new.pk}, follow=True).text
    line.refresh_from_db()
    assert (line.part, line.instead_of, line.unit_price) == (new, old, Decimal("9.50"))
    assert f"Ticket {ticket.number} has" in done
    assert "Waiting for a superseded part" not in done
    again = client.post(address, {"other": new.pk}, follow=True).text
    assert "Nobody said that another part may be used instead of" in again
    elsewhere = UserFactory(mechanic=True)
    client.force_login(elsewhere)
    assert client.post(address, {"other": new.pk}).status_code == 404


def test_a_row_of_superseded_parts_is_swapped_to_its_end_in_one(ticket: Ticket, old: Part, new: Part) -> None:
    newest = PartFactory(number="NEW-2")
    superseded(old, new)
    superseded(new, newest)
    add_by_hand(ticket=ticket, part=old, quantity=Decimal(1), by=None)
    line = PartLine.objects.select_related("ticket", "part").get()
    assert swap_part(line=line, other=newest, by=None).part == newest
