"""One fork with short wipers, from booking to hand-back: balances and charges agree to the cent."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.factories import KitLineFactory, ServiceKitFactory, StockItemFactory, SuspensionUnitFactory, UserFactory
from tests.known import known
from tests.workshop.charges.test_charges import set_rules
from workshop.charges.agreeing import record_answer
from workshop.charges.labour import charge_service
from workshop.documents.issuing import issue
from workshop.models import FinalCharges, StockMovement, Ticket
from workshop.promise.honest import earliest_day
from workshop.stock.moving import level_of
from workshop.stock.ordering import place_order, receive_goods
from workshop.stock.shortages import stores_standing
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.models import PartLine
from workshop.tickets.settings_record import Settings
from workshop.work.adding_parts import add_from_kit
from workshop.work.hand_back import hand_back
from workshop.work.moves import AgreementMissing, move
from workshop.work.part_lines import use_part_line

pytestmark = pytest.mark.django_db


def test_short_wipers_from_booking_to_hand_back(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    mechanic = UserFactory(mechanic=True)
    shop = known(mechanic.shop)
    set_rules(shop)
    unit = SuspensionUnitFactory(shop=shop)
    item = StockItemFactory(shop=shop, price=Decimal("11.35"), supplier="North", lead_days=4, reorder_level=Decimal(0))
    KitLineFactory(kit=ServiceKitFactory(model=unit.model), part=item.part, quantity=2)

    today = timezone.localdate()
    honest = earliest_day(shop, today, model_pk=unit.model_id)
    assert honest.day > today + dt.timedelta(days=4)
    assert item.part.description in honest.reasons[-1]
    ticket = book_in(
        shop=shop, by=mechanic, customer=unit.customer, unit=unit,
        agreement=AgreedAtBooking("Due.", honest.day, price_ceiling=Decimal(50)),
    )  # fmt: skip
    add_from_kit(ticket=ticket, level="lowers", by=mechanic)
    move(ticket=ticket, to_state="waiting", waiting_for="parts", by=mechanic, seen_version=1)

    standing = stores_standing(shop)
    (short,) = [row for row in standing.items if row.suggested]
    assert short.item == item
    assert standing.parts_here() == set()
    order = place_order(shop=shop, supplier="North", quantities={item.pk: short.suggested + 1}, by=mechanic)
    line = order.lines.get()
    receive_goods(order=order, seen_version=1, quantities={line.pk: Decimal(2)}, by=mechanic)
    assert stores_standing(shop).parts_here() == {ticket.pk}

    move(ticket=ticket, to_state="on_the_bench", by=mechanic, seen_version=ticket.version)
    charge_service(ticket=ticket, level="lowers", by=mechanic)
    use_part_line(line=PartLine.objects.select_related("ticket", "part").get(), by=mechanic)
    with pytest.raises(AgreementMissing):
        move(ticket=ticket, to_state="ready", by=mechanic, seen_version=ticket.version)
    ticket = Ticket.objects.get(pk=ticket.pk)
    estimate = issue(ticket=ticket, kind="estimate", by=mechanic, ticket_address="")
    record_answer(
        document=estimate, agreed=True, how="phone", said_by="Odile", by=mechanic, seen_digest=estimate.data_digest
    )
    move(ticket=ticket, to_state="ready", by=mechanic, seen_version=ticket.version)
    hand_back(ticket=ticket, by=mechanic, seen_version=ticket.version, settings=Settings())

    # By hand: 75.00 + 2 × 11.35 = 97.70, and 20 % of it 19.54.
    final = FinalCharges.objects.get()
    assert (final.net, final.tax, final.gross) == (Decimal("97.70"), Decimal("19.54"), Decimal("117.24"))
    assert Decimal(estimate.data["charges"]["gross"]) == final.gross
    assert [movement.quantity for movement in StockMovement.objects.all()] == [2, -2]
    assert level_of(item) == 0
