"""The stores of the played month: ordering from the basket, deliveries with all that goes wrong, counting, prices."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from tests.month.the_play import Play
from workshop.models import PurchaseOrder, User
from workshop.promise.expected import expected_in_stores
from workshop.promise.people import add_absence
from workshop.stock.basket import basket_of
from workshop.stock.delivery_models import SentBack
from workshop.stock.moving import level_of
from workshop.stock.order_changes import mark_sent
from workshop.stock.order_standing import open_quantities, price_of_pack
from workshop.stock.ordering import expect_order, place_order
from workshop.stock.price_updates import PricesWanted, change_prices, digest_of_rows, rows_of_update
from workshop.stock.receiving import CameIn, book_delivery
from workshop.stock.sending_back import note_credit, send_back
from workshop.stock.stock_take_models import StockTake
from workshop.stock.stock_taking import (
    CountedItem,
    book_stock_take,
    differences_of,
    keep_counts,
    standings_of_take,
    start_stock_take,
)

NOTHING = Decimal(0)


def order(play: Play) -> None:
    """What the basket suggests, with what is likely to be needed where nothing is short yet."""
    shop = play.made.shop
    expected = expected_in_stores(shop)
    ahead = {one.row.item.pk: one.suggested for one in expected.values() if one.row is not None and one.missing}
    for supplier, rows in basket_of(shop, None, ahead).by_supplier:
        wanted = {row.standing.item.pk: row.quantity for row in rows if row.superseded_by is None}
        if supplier and wanted:
            made = place_order(shop=shop, supplier=supplier, quantities=wanted, by=play.made.counter)
            mark_sent(order=made, seen_version=made.version, how="by mail", by=play.made.counter)
            play.done["ordered"] += 1


def deliveries(play: Play) -> None:
    """What is expected by today comes whole, in part, with faults or too much; or the supplier names another day."""
    open_orders = PurchaseOrder.objects.filter(shop=play.made.shop, closed_at=None, expected_on__lte=play.today)
    for one in open_orders.order_by("number"):
        how = play.chance.choices(["whole", "part", "faults", "over", "later"], [6, 2, 2, 1, 2])[0]
        if how != "later":
            came = _came(play, one, how)
            book_delivery(
                order=one, seen_version=one.version, came=came, by=play.made.counter, sent_id=play.id(), note=how
            )
            play.done["deliveries"] += 1
            play.done[how] += 1
            if how == "faults":
                _send_back(play, one)
        one.refresh_from_db()
        if one.closed_at is None:
            later = play.today + dt.timedelta(days=play.chance.choice([1, 2, 4]))
            expect_order(order=one, seen_version=one.version, expected_on=later)
            play.done["expected later"] += 1


def _came(play: Play, one: PurchaseOrder, how: str) -> Mapping[int, CameIn]:
    lines = {line.pk: line for line in one.lines.select_related("item__part")}
    came: dict[int, CameIn] = {}
    for pk, still in open_quantities(one).items():
        if not still:
            continue
        price = price_of_pack(lines[pk])
        whole = still
        if how == "part" and len(came) % 2 == 0 and whole > 1:
            came[pk] = CameIn(good=(whole / 2).to_integral_value() or Decimal(1), pack_price=price)
        elif how == "faults" and len(came) == 0:
            dearer = None if price is None else (price * Decimal("1.07")).quantize(Decimal("0.01"))
            came[pk] = CameIn(
                good=max(whole - 2, NOTHING), damaged=min(whole, Decimal(1)), pack_price=dearer, note="Torn"
            )
        elif how == "over" and len(came) == 0:
            came[pk] = CameIn(good=whole + 2, pack_price=price, note="Two more than ordered")
        else:
            came[pk] = CameIn(good=whole, pack_price=price)
        if came[pk].good and len(came) % 2:  # every other line names the batch that it came of
            use_by = play.today + dt.timedelta(days=400)
            play.done["batches named"] += 1
            came[pk] = replace(came[pk], batch_number=f"{one.number}-{play.today:%m%d}", use_by=use_by)
    return came


def _send_back(play: Play, one: PurchaseOrder) -> None:
    """What came torn goes back for another; of the first good line one goes back for its money."""
    one.refresh_from_db()
    line = one.lines.order_by("pk").first()
    assert line is not None
    reason = "Torn in its bag"
    unusable = SentBack.What.UNUSABLE
    send_back(
        order=one, seen_version=one.version, line=line, what=unusable, quantity=Decimal(1), reason=reason,
        replaced=True, by=play.made.counter, sent_id=play.id(),
    )  # fmt: skip
    last = one.lines.order_by("pk").last()
    assert last is not None
    one.refresh_from_db()
    if last.pk != line.pk and level_of(last.item) >= 1:
        send_back(
            order=one, seen_version=one.version, line=last, what=SentBack.What.GOOD, quantity=Decimal(1),
            reason="Not the one that was ordered", replaced=False, by=play.made.counter, sent_id=play.id(),
        )  # fmt: skip
        one.refresh_from_db()
        note_credit(order=one, seen_version=one.version, amount=Decimal("0.01"), note="C 1", by=play.made.counter)
        play.done["sent back"] += 1


def count(play: Play, shelf: str) -> None:
    """A stock-take of some shelves: of one item a piece is lost, of another one more is found."""
    made, shop = play.made, play.made.shop
    take: StockTake = start_stock_take(shop=shop, shelf=shelf, blind=False, by_two=False, by=made.counter)
    counts = []
    for place, item in enumerate(one for one in made.items.values() if one.shelf.startswith(shelf)):
        level = level_of(item)
        off = Decimal({0: -1, 1: 1}.get(place, 0))
        counts.append(CountedItem(item.pk, max(level + off, NOTHING), level))
    keep_counts(take=take, counts=counts, by=made.counter)
    take.refresh_from_db()
    sure = {one.item.pk: one.count.counted for one in differences_of(take, standings_of_take(take)) if one.doubt}
    book_stock_take(take=take, seen_version=take.version, reason="Nobody knows", sure=sure, by=made.owner)
    play.done["counts"] += 1


def raise_prices(play: Play, in_days: int) -> None:
    """Wipers are dearer from a day to come on."""
    wanted = PricesWanted("price", Decimal(6), Decimal("0.05"), role="wiper")
    shop = play.made.shop
    day = play.today + dt.timedelta(days=in_days)
    digest = digest_of_rows(rows_of_update(shop, wanted))
    change_prices(shop=shop, wanted=wanted, from_on=day, seen_digest=digest, by=play.made.owner)
    play.done["price rise"] += 1


def fall_ill(play: Play, who: User, days: int) -> None:
    """Told in the morning, before anything else."""
    last = play.today + dt.timedelta(days=days - 1)
    add_absence(mechanic=who, by=play.made.owner, kind="illness", first=play.today, last=last)
    play.done["illness"] += 1
