"""What the stores are worth on a day, by the moving weighted average of each item, and what it earns."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from workshop.charges.sums import to_cents
from workshop.staff.models import Shop
from workshop.stock.average import NOTHING, Pool
from workshop.stock.batch_models import Batch
from workshop.stock.first_expiring import CENT, shares_of
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.rounding import FINEST, rounded
from workshop.stock.shops_movements import shops_movements
from workshop.web.days import end_of

Kind = StockMovement.Kind
BOUGHT = (Kind.RECEIVED, Kind.SENT_BACK, Kind.UNDONE)


def cost_of_movement(movement: StockMovement) -> Decimal | None:
    """What each of it was bought at; None where nobody knows, or nothing was bought. Whoever knows better what
    was paid writes it into `unit_cost` as it is received.
    """
    return movement.unit_cost


@dataclass(frozen=True)
class BatchWorth:
    """What was there of a batch, or without one where `batch` is None, and its share of the item's value."""

    batch: Batch | None
    level: Decimal
    value: Decimal


@dataclass(frozen=True)
class Worth:
    """An item on a day: what was there, what of it has no known cost, what each cost on average, and all of it.

    `batches` add up to the level and to the value; they are empty where the item has none. What is in them is alike
    and costs the item's average, whichever came first.
    """

    item: StockItem
    level: Decimal
    unknown: Decimal
    average: Decimal | None
    value: Decimal
    batches: Sequence[BatchWorth] = ()

    @property
    def average_shown(self) -> Decimal | None:
        """The average as finely as prices go."""
        return None if self.average is None else rounded(self.average, FINEST)

    def margin(self, tax_percent: Decimal) -> Decimal | None:
        """What of the price now, without a tax that is in it, is above the average cost, in per cent; None unknown."""
        net = self.item.price * 100 / (100 + tax_percent)
        return None if self.average is None or not net else ((net - self.average) * 100 / net).quantize(Decimal("0.1"))


@dataclass(frozen=True)
class StockValue:
    """All items that were there on a day, by part number; values are to the cent, and so is their sum."""

    rows: Sequence[Worth]

    @property
    def value(self) -> Decimal:
        return sum((row.value for row in self.rows), NOTHING)

    @property
    def unknown(self) -> int:
        """Items of which something has no known cost."""
        return sum(1 for row in self.rows if row.unknown)


def value_on(shop: Shop, day: dt.date) -> StockValue:
    """What the stores were worth at the end of a day; three queries, on PostgreSQL four."""
    moved = shops_movements(shop).filter(at__lt=end_of(day)).order_by("pk")
    pools: dict[int, Pool] = defaultdict(Pool)
    rows = moved.values_list("item", "kind", "quantity", "unit_cost", "part_line")
    for item, kind, quantity, cost, line in rows.iterator(chunk_size=5000):
        move_value(pools[item], kind, quantity, cost, line)
    there = {pk: pool for pk, pool in pools.items() if pool.level}
    items = StockItem.objects.filter(shop=shop).select_related("part").order_by("part__number")
    batches = _in_batches(shop, day)
    return StockValue([_worth(item, there[item.pk], batches.get(item.pk, ())) for item in items if item.pk in there])


def _in_batches(shop: Shop, day: dt.date) -> dict[int, list[Batch]]:
    """The batches of each item with `level`, what was in them at the end of a day."""
    moved = Batch.objects.filter(item__shop=shop, movements__at__lt=end_of(day)).order_by("pk")
    found: dict[int, list[Batch]] = defaultdict(list)
    for batch in moved.annotate(level=Sum("movements__quantity")):
        batch.level = batch.level.quantize(CENT)  # SQLite adds up floats
        if batch.level:
            found[batch.item_id].append(batch)
    return found


def pool_of(movements: Iterable[StockMovement]) -> Pool:
    """Of the movements of one item, the oldest first."""
    pool = Pool()
    for one in movements:
        move_value(pool, one.kind, one.quantity, cost_of_movement(one), one.part_line_id)
    return pool


def move_value(pool: Pool, kind: str, quantity: Decimal, cost: Decimal | None, line: int | None) -> Decimal | None:
    """One movement of an item; what it cost where it went out and that is known."""
    if quantity < 0 and kind in BOUGHT:
        pool.unbought(-quantity, cost)
        return None
    if quantity < 0:
        return pool.went(-quantity, line)
    if kind == Kind.RETURNED:
        pool.came_back(quantity, line)
    elif kind in BOUGHT:
        pool.bought(quantity, cost)
    else:
        pool.found(quantity)
    return None


def _worth(item: StockItem, pool: Pool, batches: Sequence[Batch]) -> Worth:
    value = to_cents(pool.value)
    return Worth(item, pool.level, pool.unknown, pool.average, value, _shared(pool.level, value, batches))


def _shared(level: Decimal, value: Decimal, batches: Sequence[Batch]) -> list[BatchWorth]:
    if not batches:
        return []
    named: list[tuple[Batch | None, Decimal]] = [(batch, batch.level) for batch in batches]  # type: ignore[attr-defined]
    rest = level - sum((there for _, there in named), NOTHING)
    rows = [*named, (None, rest)] if rest else named
    values = shares_of(value, [there for _, there in rows])
    return [BatchWorth(batch, there, share) for (batch, there), share in zip(rows, values, strict=True)]
