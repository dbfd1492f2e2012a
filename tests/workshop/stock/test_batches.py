"""Batches: the first to expire first, out of date only once somebody says so, and their sum is what the stores show."""

from __future__ import annotations

import contextlib
import datetime as dt
import random
from collections import defaultdict
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from tests.factories import PartFactory, PartLineFactory, StockItemFactory, TicketFactory
from tests.known import known
from tests.logbook import said
from workshop.kept.triggers import what_differs
from workshop.models import Batch, BatchMovement, OrderLine, PurchaseOrder, StockItem, StockMovement, Ticket
from workshop.stock.batches import (
    batch_named,
    correct_batch,
    count_batch,
    level_in,
    open_bottle,
    put_into_batch,
    without_batch,
)
from workshop.stock.first_expiring import Held, dealt, first_expiring, shares_of
from workshop.stock.moving import (
    NotEnoughInStock,
    book_back,
    count,
    level_of,
    receive,
    receive_for_order,
    send_out,
    write_off,
)
from workshop.stock.value import value_on
from workshop.tickets.models import PartLine
from workshop.web.versions import StaleVersion
from workshop.work.part_lines import OutOfDate, take_up_again, use_part_line
from workshop.work.parts_shown import lines_of

TODAY = dt.date(2026, 11, 30)
database = pytest.mark.django_db


def day(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


@pytest.fixture
def oil(db: None) -> StockItem:
    part = PartFactory(description="Fell Fluid 5", role="oil", measure="ml", bottle_ml=Decimal(1000))
    return StockItemFactory(part=part, cost=Decimal("0.02"), price=Decimal("0.05"), reorder_level=Decimal(0))


def came(oil: StockItem, number: str, use_by: dt.date | None, quantity: int, cost: str | None = None) -> Batch:
    batch = batch_named(item=oil, number=number, use_by=use_by, by=None)
    paid = None if cost is None else Decimal(cost)
    receive(item=oil, quantity=Decimal(quantity), by=None, batch=batch, cost=paid)
    return batch


def line_of(oil: StockItem, quantity: int, ticket: Ticket | None = None) -> PartLine:
    line = PartLineFactory(ticket=ticket or TicketFactory(shop=oil.shop), part=oil.part, quantity=Decimal(quantity))
    return PartLine.objects.select_related("part", "ticket__shop").get(pk=line.pk)


def levels(oil: StockItem) -> dict[str, Decimal]:
    """By number, added up from the movements themselves; bottles with their batch."""
    found: dict[str, Decimal] = defaultdict(Decimal)
    for number, quantity in BatchMovement.objects.filter(batch__item=oil).values_list("batch__number", "quantity"):
        found[number] += quantity
    return {number: level for number, level in found.items() if level}


class TestTheOrderOfUse:
    def test_in_date_first_to_expire_opened_before_closed_and_out_of_date_last(self) -> None:
        held = [
            Held(1, Decimal(5), TODAY - dt.timedelta(1)), Held(2, Decimal(5), TODAY + dt.timedelta(9)),
            Held(3, Decimal(5), TODAY), Held(4, Decimal(5), TODAY, opened=True), Held(5, Decimal(5)),
            Held(None, Decimal(5)), Held(6, Decimal(0), TODAY),
        ]  # fmt: skip
        order = first_expiring(held, TODAY)
        assert [one.key for one in order] == [4, 3, 2, 5, None, 1]
        assert [(one.key, int(amount)) for one, amount in dealt(order, Decimal(7))] == [(4, 5), (3, 2)]
        assert [(one.key, int(amount)) for one, amount in dealt(order, Decimal(7), [2])] == [(2, 5), (4, 2)]
        assert sum(amount for _, amount in dealt(order, Decimal(99))) == 30

    @given(
        value=st.decimals(Decimal(0), Decimal(99999), places=2),
        parts=st.lists(st.decimals(Decimal(0), Decimal(9999), places=2), min_size=1, max_size=8),
    )
    def test_shares_add_up_and_are_each_within_a_cent(self, value: Decimal, parts: list[Decimal]) -> None:
        shares, total = shares_of(value, parts), sum(parts, Decimal(0))
        if total:
            assert sum(shares, Decimal(0)) == value
            for share, level in zip(shares, parts, strict=True):
                exact = Fraction(value) * Fraction(level) / Fraction(total)
                assert abs(Fraction(share) - exact) < Fraction(1, 100)
        else:
            assert not any(shares)


@database
class TestBatches:
    def test_used_of_the_first_to_expire_and_put_back_into_it(self, oil: StockItem) -> None:
        came(oil, "late", day(300), 1000)
        soon = came(oil, "soon", day(30), 100)
        line = line_of(oil, 150)
        (shown,) = lines_of(line.ticket)
        assert [(one.batch.number, one.quantity) for one in shown.batches] == [
            ("soon", Decimal(100)),
            ("late", Decimal(1000)),
        ]
        use_part_line(line=line, by=None)
        assert levels(oil) == {"late": 950}
        (shown,) = lines_of(line.ticket)
        assert [(one.batch.number, one.quantity, one.over) for one in shown.batches] == [
            ("soon", Decimal(100), False), ("late", Decimal(50), False),
        ]  # fmt: skip
        take_up_again(line=line, by=None)
        assert (levels(oil), level_of(oil)) == ({"late": Decimal(1000), "soon": Decimal(100)}, Decimal(1100))
        assert level_in(soon) == 100

    def test_out_of_date_is_said_and_used_only_once_somebody_says_so(self, oil: StockItem) -> None:
        old = came(oil, "old", day(-1), 500)
        line = line_of(oil, 40)
        with pytest.raises(OutOfDate, match="batch old") as asked:
            use_part_line(line=line, by=None)
        assert (level_of(oil), [one.pk for one in asked.value.batches]) == (Decimal(500), [old.pk])
        use_part_line(line=line, by=None, out_of_date=[old.pk])
        assert "used of batch old, which was out of date" in said(line.ticket.events.first())
        (shown,) = lines_of(line.ticket)
        assert [one.over for one in shown.batches] == [True]

    def test_it_is_never_taken_while_there_is_another(self, oil: StockItem) -> None:
        came(oil, "old", day(-1), 500)
        receive(item=oil, quantity=Decimal(30), by=None)
        came(oil, "good", day(0), 10)
        use_part_line(line=line_of(oil, 40), by=None)
        assert (levels(oil), without_batch(oil)) == ({"old": Decimal(500)}, Decimal(0))
        use_part_line(line=line_of(oil, 1), by=None, taking_from=None)  # it is in the unit already: the logbook says so
        assert levels(oil) == {"old": 499}
        assert Ticket.objects.filter(events__kind="batch_out_of_date").count() == 1

    def test_a_batch_that_was_chosen_comes_first(self, oil: StockItem) -> None:
        came(oil, "soon", day(30), 100)
        late = came(oil, "late", day(300), 20)
        use_part_line(line=line_of(oil, 50), by=None, of_batches=[late.pk])
        assert levels(oil) == {"soon": 70}

    def test_a_bottle_is_opened_and_is_used_before_the_closed_ones(self, oil: StockItem) -> None:
        batch = came(oil, "L-1", day(300), 3000)
        bottle = open_bottle(
            batch=batch, quantity=Decimal(1000), opened_on=day(0), use_by=day(90), seen_version=1, by=None
        )
        assert (level_in(batch), level_in(bottle), level_of(oil)) == (Decimal(2000), Decimal(1000), Decimal(3000))
        use_part_line(line=line_of(oil, 1200), by=None)
        assert (level_in(bottle), level_in(batch)) == (Decimal(0), Decimal(1800))
        last = Batch.objects.get(pk=batch.pk)
        assert open_bottle(
            batch=last, quantity=None, opened_on=day(0), use_by=None, seen_version=last.version, by=None
        ).pk == batch.pk  # fmt: skip

    @pytest.mark.parametrize(
        ("quantity", "opened", "use_by", "field"),
        [
            (Decimal(0), 0, None, "quantity"), (Decimal(3001), 0, None, "quantity"), (None, 1, None, "opened_on"),
            (None, 0, -1, "use_by"), (None, 0, 301, "use_by"), (None, 0, 99999, "use_by"),
        ],
    )  # fmt: skip
    def test_a_bottle_that_cannot_be_is_refused_at_its_field(
        self, oil: StockItem, quantity: Decimal | None, opened: int, use_by: int | None, field: str
    ) -> None:
        batch = came(oil, "L-1", day(300), 3000)
        until = None if use_by is None else day(use_by)
        with pytest.raises(ValidationError) as refused:
            open_bottle(
                batch=batch, quantity=quantity, opened_on=day(opened), use_by=until, seen_version=1, by=None
            )  # fmt: skip
        assert list(refused.value.message_dict) == [field]
        assert Batch.objects.get().opened_on is None

    def test_what_was_not_opened_after_all_is_its_batchs_again(self, oil: StockItem) -> None:
        batch = came(oil, "L-1", day(300), 3000)
        bottle = open_bottle(
            batch=batch, quantity=Decimal(1000), opened_on=day(0), use_by=day(90), seen_version=1, by=None
        )
        use_part_line(line=line_of(oil, 200), by=None)
        right: dict[str, Any] = {"batch_number": "L-1", "use_by": day(80), "by": None}
        correct_batch(batch=bottle, seen_version=1, opened_on=day(-3), **right)
        stored = Batch.objects.get(pk=bottle.pk)
        assert (stored.opened_on, stored.use_by, level_in(bottle)) == (day(-3), day(80), Decimal(800))
        with pytest.raises(ValidationError, match="to come"):
            correct_batch(batch=stored, seen_version=2, opened_on=day(1), **right)
        assert correct_batch(batch=Batch.objects.get(pk=bottle.pk), seen_version=2, **right).pk == batch.pk
        assert (level_in(bottle), level_in(batch), level_of(oil)) == (Decimal(0), Decimal(2800), Decimal(2800))
        assert Batch.objects.get(pk=batch.pk).use_by == day(300)

    def test_a_whole_batch_that_was_not_opened_is_closed_again(self, oil: StockItem) -> None:
        batch = came(oil, "L-1", day(300), 500)
        open_bottle(batch=batch, quantity=None, opened_on=day(0), use_by=day(90), seen_version=1, by=None)
        correct_batch(batch=batch, batch_number="L-1", use_by=day(300), seen_version=2, by=None)
        stored = Batch.objects.get()
        assert (stored.opened_on, stored.use_by, level_in(batch)) == (None, day(300), Decimal(500))

    def test_of_two_who_open_it_the_slower_is_told(self, oil: StockItem) -> None:
        batch = came(oil, "L-1", None, 1000)
        open_bottle(batch=Batch.objects.get(), quantity=None, opened_on=day(0), use_by=None, seen_version=1, by=None)
        with pytest.raises(StaleVersion):
            open_bottle(batch=batch, quantity=None, opened_on=day(0), use_by=None, seen_version=1, by=None)

    def test_the_same_number_is_the_same_batch_and_another_day_is_asked_about(self, oil: StockItem) -> None:
        first = came(oil, "L 77", None, 10)
        assert batch_named(item=oil, number=" l  77 ", use_by=day(9), by=None).pk == first.pk
        assert Batch.objects.get().use_by == day(9)
        with pytest.raises(ValidationError, match="here already"):
            batch_named(item=oil, number="L 77", use_by=day(10), by=None)
        with pytest.raises(ValidationError, match="number on the bottle"):
            batch_named(item=oil, number=" ", use_by=None, by=None)
        other = came(oil, "L 78", None, 10)
        with pytest.raises(ValidationError, match="Another batch"):
            correct_batch(batch=other, batch_number="l 77", use_by=None, seen_version=1, by=None)
        correct_batch(batch=Batch.objects.get(pk=other.pk), batch_number="L 79", use_by=day(3), seen_version=1, by=None)
        assert set(Batch.objects.values_list("number", "use_by")) == {("L 77", day(9)), ("L 79", day(3))}

    def test_what_has_no_batch_gets_one_and_no_more_than_that(self, oil: StockItem) -> None:
        receive(item=oil, quantity=Decimal(700), by=None)
        put_into_batch(item=oil, batch_number="A", use_by=None, quantity=Decimal(300), by=None)
        assert (levels(oil), without_batch(oil), level_of(oil)) == ({"A": Decimal(300)}, Decimal(400), Decimal(700))
        for wrong in (Decimal(401), Decimal(0), Decimal(-1)):
            with pytest.raises(ValidationError):
                put_into_batch(item=oil, batch_number="B", use_by=None, quantity=wrong, by=None)
        assert not Batch.objects.filter(number="B").exists()

    def test_counts_take_first_what_has_no_batch_and_find_it_there(self, oil: StockItem) -> None:
        batch = came(oil, "A", day(30), 500)
        receive(item=oil, quantity=Decimal(40), by=None)
        count(item=oil, counted=Decimal(490), by=None)
        assert (levels(oil), without_batch(oil)) == ({"A": Decimal(490)}, Decimal(0))
        count(item=oil, counted=Decimal(520), by=None)
        assert (levels(oil), without_batch(oil)) == ({"A": Decimal(490)}, Decimal(30))
        count_batch(batch=batch, counted=Decimal(450), by=None)
        assert (levels(oil), without_batch(oil), level_of(oil)) == ({"A": Decimal(450)}, Decimal(30), Decimal(480))
        assert count_batch(batch=batch, counted=Decimal(450), by=None) is None
        with pytest.raises(ValidationError):
            count_batch(batch=batch, counted=Decimal(-1), by=None)

    def test_what_came_of_an_order_is_booked_back_out_of_its_batch(self, oil: StockItem) -> None:
        came(oil, "soon", day(3), 100)
        order = PurchaseOrder.objects.create(shop=oil.shop, number=1, supplier="Fell", ordered_at=timezone.now())
        line = OrderLine.objects.create(order=order, item=oil, ordered=Decimal(1000))
        batch = batch_named(item=oil, number="N", use_by=day(300), by=None)
        receive_for_order(line=line, quantity=Decimal(1000), by=None, batch=batch)
        send_out(line=line, quantity=Decimal(400), by=None, note="too much")
        assert levels(oil) == {"soon": 100, "N": 600}
        book_back(line=line, quantity=Decimal(400), by=None)
        assert levels(oil) == {"soon": 100, "N": 1000}
        book_back(line=line, quantity=Decimal(-1000), by=None)
        assert levels(oil) == {"soon": 100}

    @pytest.mark.parametrize("bad", [{"number": ""}, {"number": "b"}, {"bottle_of": None, "number": "B"}])
    def test_the_database_refuses_it_too(self, oil: StockItem, bad: dict[str, str]) -> None:
        came(oil, "A", None, 1)
        came(oil, "B", None, 1)
        with pytest.raises(IntegrityError), transaction.atomic():
            Batch.objects.filter(number="A").update(**bad)

    def test_the_database_lets_no_batch_fall_below_nothing(self, oil: StockItem) -> None:
        batch = came(oil, "A", None, 5)
        for quantity in (Decimal(0), Decimal(-6)):
            with pytest.raises(IntegrityError), transaction.atomic():
                BatchMovement.objects.create(batch=batch, quantity=quantity, at=timezone.now())
        with pytest.raises(IntegrityError), transaction.atomic():
            Batch.objects.create(item=oil, number="A", bottle_of=batch, at=timezone.now())

    def test_check_sums_finds_a_batch_that_holds_more_than_the_stores(self, oil: StockItem) -> None:
        batch = came(oil, "A", None, 5)
        assert what_differs() == []
        BatchMovement.objects.create(batch=batch, quantity=Decimal(1), at=timezone.now())
        assert what_differs() == ["1 parts have more in their batches than the stores show"]

    def test_a_part_without_batches_is_as_it_was(self, oil: StockItem) -> None:
        receive(item=oil, quantity=Decimal(50), by=None)
        line = line_of(oil, 20)
        use_part_line(line=line, by=None)
        write_off(item=oil, quantity=Decimal(5), by=None, note="Spilled")
        (shown,) = lines_of(line.ticket)
        assert (level_of(oil), list(shown.batches)) == (Decimal(25), [])
        assert not BatchMovement.objects.exists()


class AnyDay:
    """What happens to an oil in a shop, by chance."""

    def __init__(self, oil: StockItem, seed: int) -> None:
        self.oil, self.chance, self.lines = oil, random.Random(seed), list[PartLine]()
        self.ticket = TicketFactory(shop=oil.shop)
        self.acts = (self.came, self.came, self.opened, self.used, self.used, self.back, self.spilled, self.counted,
                     self.batch_counted)  # fmt: skip

    def goes_on(self) -> None:
        batch = self.chance.choice([*Batch.objects.filter(kept_level__level__gt=0), None])
        self.chance.choice(self.acts)(Decimal(self.chance.randint(1, 50000)) / 100, batch)

    def came(self, amount: Decimal, _: Batch | None) -> None:
        number, cost = f"N{self.chance.randint(1, 5)}", Decimal(self.chance.randint(1, 90)) / 1000
        known_day = Batch.objects.filter(number=number, bottle_of=None).values_list("use_by", flat=True).first()
        use_by = known_day or day(self.chance.randint(-20, 90))
        named = batch_named(item=self.oil, number=number, use_by=use_by, by=None)
        receive(item=self.oil, quantity=amount, by=None, batch=self.chance.choice([named, named, None]), cost=cost)

    def opened(self, amount: Decimal, batch: Batch | None) -> None:
        if batch is not None:
            seen = batch.version
            open_bottle(batch=batch, quantity=amount, opened_on=day(0), use_by=None, seen_version=seen, by=None)

    def used(self, amount: Decimal, batch: Batch | None) -> None:
        line = line_of(self.oil, int(amount) + 1, self.ticket)
        use_part_line(line=line, by=None, taking_from=None, of_batches=[batch.pk] if batch else [])
        self.lines.append(line)

    def back(self, _: Decimal, __: Batch | None) -> None:
        if self.lines:
            take_up_again(line=self.lines.pop(self.chance.randrange(len(self.lines))), by=None)

    def spilled(self, amount: Decimal, batch: Batch | None) -> None:
        write_off(item=self.oil, quantity=amount, by=None, note="Spilled", first=[batch.pk] if batch else [])

    def counted(self, amount: Decimal, _: Batch | None) -> None:
        count(item=self.oil, counted=amount, by=None)

    def batch_counted(self, amount: Decimal, batch: Batch | None) -> None:
        if batch is not None:
            count_batch(batch=batch, counted=amount, by=None)


@database
@pytest.mark.parametrize("seed", range(5))
def test_whatever_moves_the_batches_add_up_to_the_stores(oil: StockItem, seed: int) -> None:
    days = AnyDay(oil, seed)
    for _ in range(30):
        with contextlib.suppress(NotEnoughInStock, ValidationError), transaction.atomic():
            days.goes_on()  # or it was more than there is, or opened already, and nothing moved
        check(oil)
    assert BatchMovement.objects.exists()
    for movement in StockMovement.objects.filter(item=oil):
        shares = [one.quantity for one in movement.of_batches.all()]
        assert all((share > 0) == (movement.quantity > 0) for share in shares)
        assert abs(sum(shares, Decimal(0))) <= movement.size
    assert what_differs() == []


def check(oil: StockItem) -> None:
    moved = sum(StockMovement.objects.filter(item=oil).values_list("quantity", flat=True), Decimal(0))
    each: dict[int, Decimal] = defaultdict(Decimal)
    for batch, quantity in BatchMovement.objects.filter(batch__item=oil).values_list("batch", "quantity"):
        each[batch] += quantity
        assert each[batch] >= 0
    rest = moved - sum(each.values(), Decimal(0))
    assert rest >= 0
    assert level_of(oil) == moved
    worth = value_on(oil.shop, day(0))
    for row in worth.rows:
        shown = {one.batch.pk: one for one in row.batches if one.batch is not None}
        assert {pk: one.level for pk, one in shown.items()} == {pk: level for pk, level in each.items() if level}
        assert sum((one.value for one in row.batches), Decimal(0)) == (row.value if shown else Decimal(0))
        for one in row.batches:
            exact = Fraction(row.value) * Fraction(one.level) / Fraction(known(moved))
            assert abs(Fraction(one.value) - exact) < Fraction(1, 100)
