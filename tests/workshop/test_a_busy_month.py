"""A month of a busy shop, played day by day through the shop's own functions; what must hold is looked at each evening.

Stock is the sum of its movements and worth what they say; tickets, receipts and money come to the same; what open
tickets need is there, on order or said to be ordered; and no promise breaks that was not marked before.
"""

from __future__ import annotations

import datetime as dt
import random
from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal

import pytest
from django.utils import timezone

from specs.stand_ins import set_stand_in
from tests.factories import PartFactory
from tests.month import bench, counter, stores
from tests.month.the_play import FIRST_DAY, Clock, Play
from tests.month.the_shop import NEAR, make_shop
from tests.month.truths import check_all_takings, check_levels, check_money, check_no_shortage_hidden, check_value
from workshop.models import PartLine, Ticket
from workshop.stock.keeping import keep_part

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("tickets", "per_day", "deliveries"),
    [(40, [4], 5), pytest.param(200, [8, 9, 10, 11], 40, marks=pytest.mark.long)],
    ids=["short", "whole"],
)
def test_a_busy_month(monkeypatch: pytest.MonkeyPatch, tickets: int, per_day: Sequence[int], deliveries: int) -> None:
    clock = Clock()
    monkeypatch.setattr(timezone, "now", clock)
    play = Play(make_shop(), clock, random.Random(2026), tickets, per_day)
    day, most_days = FIRST_DAY, 60
    while (play.done["booked"] < tickets or unfinished(play)) and len(play.days) < most_days:
        if day.weekday() < 5:
            one_day(play, day)
        day += DAY
    assert not unfinished(play), dict(play.done)
    assert play.done["booked"] == tickets
    check_all_takings(play.made.shop, play.days)
    assert play.done["counts"] == 3
    assert play.done["deliveries"] >= deliveries, dict(play.done)
    for what in (
        "price rise",
        "tax change",
        "illness",
        "no",
        "called off",
        "credit note",
        "opened again",
        "batches named",
    ):
        assert play.done[what], (what, dict(play.done))


def unfinished(play: Play) -> bool:
    return Ticket.objects.filter(shop=play.made.shop).exclude(state="handed_back").exists()


def one_day(play: Play, day: dt.date) -> None:
    play.begin(day)
    number = len(play.days)
    special_events(play, number)
    stores.deliveries(play)
    counter.answers(play)
    for _ in range(play.chance.choice(play.per_day)):
        if play.done["booked"] < play.most_tickets:
            counter.book(play, squeezed=play.chance.random() < 0.03)
    play.look()
    check_no_shortage_hidden(play.made.shop, likely(play))
    stores.order(play)
    bench.work(play)
    counter.hand_out(play)
    counter.pay_what_is_open(play)
    check(play)
    play.check_promises()


def special_events(play: Play, number: int) -> None:
    """What happens once in the month, on the morning of which working day."""
    if number == 4:
        stores.raise_prices(play, in_days=4)
    if number == 5:
        counter.announce_tax(play)
    if number in (3, 8, 12):
        stores.count(play, "L" if number == 8 else "K")
    if number == 6:
        stores.fall_ill(play, play.made.mechanics[1], days=2)
    if number == 7:
        supersede_a_wiper(play)
    if number == 9:
        counter.credit_one(play)
    if number == 10:
        counter.open_one_again(play)


def supersede_a_wiper(play: Play) -> None:
    """The wiper of the first fork is no longer made; the new one is kept beside it."""
    old = next(item.part for item in play.made.items.values() if item.part.role == "wiper")
    new = PartFactory(role="wiper", number="MONTH-90")
    item = keep_part(
        shop=play.made.shop, part=new, price=Decimal("19.00"), cost=Decimal("7.50"), supplier=NEAR, lead_days=3,
        reorder_level=Decimal(4), shelf="K90", by=play.made.owner,
    )  # fmt: skip
    play.made.items[new.pk] = item
    set_stand_in(part=old, other=new, kind="superseded", reason="No longer made")
    play.done["superseded"] += 1


def check(play: Play) -> None:
    shop = play.made.shop
    check_levels(shop)
    check_value(shop, play.today)
    check_money(shop, play.rates, play.charged)
    check_no_shortage_hidden(shop, likely(play))


def likely(play: Play) -> dict[int, Decimal]:
    """What services that are booked in will take, as their kit has it: nobody put it on them yet."""
    amounts: dict[int, Decimal] = defaultdict(Decimal)
    booked = Ticket.objects.filter(shop=play.made.shop, state="booked_in").select_related("unit")
    for ticket in booked:
        if play.jobs[ticket.pk].is_service and not PartLine.objects.filter(ticket=ticket).exists():
            for part, quantity in play.made.kits[ticket.unit.model_id or 0].items():
                amounts[part] += quantity
    return amounts
