"""A stock-take: begun, counted shelf by shelf by whoever has time, looked through, and booked as a whole.

A count keeps what the stores showed at its moment, so what is used or comes in before the booking moves both alike.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, QuerySet
from django.utils import timezone

from workshop.staff.models import Shop, User
from workshop.stock.amounts import measured
from workshop.stock.count_standing import Counted, Standing, doubt_of, standing_of_count
from workshop.stock.models import StockItem
from workshop.stock.moving import correct_by, level_of, levels_of
from workshop.stock.stock_list import along_shelves, in_that_order
from workshop.stock.stock_take_models import ShelfCount, StockTake
from workshop.web.versions import take_version

NOTHING = Decimal(0)
CENT = Decimal("0.01")


@dataclass(frozen=True)
class CountedItem:
    """What was counted of an item, and the level of the stores when the sheet was opened."""

    item_pk: int
    counted: Decimal
    seen_level: Decimal


@dataclass(frozen=True)
class Difference:
    """An item whose count holds and is not what the stores showed; `worth` in money, by cost or else by price."""

    item: StockItem
    count: Counted
    by: str
    doubt: str
    worth: Decimal
    by_price: bool

    @property
    def difference(self) -> Decimal:
        return self.count.difference


class MovedMeanwhile(ValueError):
    """Something was used or received while it was counted; nothing of the sheet is kept."""

    def __init__(self, items: Sequence[tuple[StockItem, Decimal]], *, blind: bool = False) -> None:
        named = ", ".join(
            f"“{item.part.description}”" + ("" if blind else f" (now {measured(level, item.part)})")
            for item, level in items
        )
        super().__init__(f"These moved while you counted: {named}. Count them again; the rest of your list is kept.")
        self.item_pks = {item.pk for item, _ in items}


class BeingCounted(ValueError):
    """These shelves, or some of them, are in a stock-take that is not over."""

    def __init__(self, take: StockTake) -> None:
        super().__init__(
            f"{take.shelves_in_words} are being counted already, in stock-take {take.number}. "
            "Go on with that one, or book it or give it up first."
        )
        self.take = take


class StockTakeOver(ValueError):
    """It was booked or given up, so nothing can be counted in it any more."""

    def __init__(self, take: StockTake) -> None:
        super().__init__(f"Stock-take {take.number} is over: {take.get_state_display().lower()}. Begin another.")


class CannotBook(ValueError):
    """Something has to be answered before it is booked; `doubted` are the items that need a tick."""

    def __init__(self, reason: str, doubted: Sequence[int] = ()) -> None:
        super().__init__(reason)
        self.doubted = set(doubted)


@transaction.atomic
def start_stock_take(*, shop: Shop, shelf: str, blind: bool, by_two: bool, by: User | None) -> StockTake:
    """Begin to count the places that begin like `shelf`. Raises BeingCounted where some of them are in another one."""
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)  # the next number is given once
    shelf = shelf.strip().upper()
    for other in StockTake.objects.filter(shop=shop, state=StockTake.State.COUNTING):
        if other.shelf.startswith(shelf) or shelf.startswith(other.shelf):
            raise BeingCounted(other)
    newest = StockTake.objects.filter(shop=shop).aggregate(newest=Max("number"))["newest"]
    take = StockTake(
        shop=shop,
        number=(newest or 0) + 1,
        shelf=shelf,
        blind=blind,
        by_two=by_two,
        started_by=by,
        started_at=timezone.now(),
    )
    take.full_clean(exclude=["shop", "started_by", "ended_by"])
    take.save()
    return take


def items_of(take: StockTake) -> QuerySet[StockItem]:
    """The items whose place begins like its shelves."""
    return StockItem.objects.filter(shop=take.shop_id, shelf__istartswith=take.shelf)


def sheet_order(take: StockTake) -> list[int]:
    """The primary keys of its items as one walks along the shelves: A2 before A10, then by part number."""
    return along_shelves(items_of(take))


@transaction.atomic
def keep_counts(*, take: StockTake, counts: Sequence[CountedItem], by: User | None) -> int:
    """Write down what was counted; the stores stay as they are until it is booked. Returns how many.

    The same count by the same person again is kept once. Raises MovedMeanwhile, StockTakeOver, ValidationError.
    """
    locked = StockTake.objects.select_for_update().get(pk=take.pk)
    if not locked.is_open:
        raise StockTakeOver(locked)
    wanted = {entry.item_pk: entry for entry in counts}
    items = list(
        items_of(take).select_for_update(of=("self",), no_key=True).select_related("part").filter(pk__in=wanted)
    )
    levels = levels_of(wanted)
    level = {item.pk: levels.get(item.pk, NOTHING).quantize(CENT) for item in items}
    moved = [(item, level[item.pk]) for item in items if level[item.pk] != wanted[item.pk].seen_level]
    if moved:
        raise MovedMeanwhile(moved, blind=take.blind)
    before = {
        one.item_id: (one.counted, one.level) for one in ShelfCount.objects.filter(take=take, by=by, item__in=items)
    }
    now, made = timezone.now(), []
    for item in items:
        counted = wanted[item.pk].counted
        if before.get(item.pk) != (counted, level[item.pk]):
            made.append(ShelfCount(take=take, item=item, counted=counted, level=level[item.pk], by=by, at=now))
    for one in made:
        one.full_clean(exclude=["take", "item", "by"], validate_constraints=False)
    ShelfCount.objects.bulk_create(made)
    return len(items)


def standings_of_take(take: StockTake) -> dict[int, Standing]:
    """Where each item that somebody counted stands; one query."""
    rows = ShelfCount.objects.filter(take=take).order_by("pk")
    by_item: dict[int, list[Counted]] = defaultdict(list)
    for item, by, counted, level in rows.values_list("item", "by", "counted", "level"):
        by_item[item].append(Counted(by, counted, level))
    return {pk: standing_of_count(counts, by_two=take.by_two) for pk, counts in by_item.items()}


def differences_of(take: StockTake, standings: Mapping[int, Standing]) -> list[Difference]:
    """What would be booked, along the shelves; three queries however many."""
    differ = {pk: one.count for pk, one in standings.items() if one.count is not None and one.difference}
    people = {user.pk: str(user) for user in User.objects.filter(pk__in={count.by for count in differ.values()})}
    found = []
    for item in in_that_order(along_shelves(StockItem.objects.filter(pk__in=differ))):
        count = differ[item.pk]
        each = item.price if item.cost is None else item.cost
        found.append(
            Difference(
                item=item,
                count=count,
                by=people.get(count.by, "") if count.by is not None else "",
                doubt=doubt_of(count.counted, count.level, item.part.bottle_ml),
                worth=(count.difference * each).quantize(CENT),
                by_price=item.cost is None,
            )
        )
    return found


@transaction.atomic
def book_stock_take(
    *, take: StockTake, seen_version: int, reason: str, sure: Mapping[int, Decimal], by: User | None
) -> int:
    """Book every difference that holds, or nothing; what was not counted, or not agreed on, stays as it is.

    `sure` are the counts that look like a slip and were confirmed, by item. Returns how many differed.

    Raises:
        StockTakeOver: it was booked or given up meanwhile.
        CannotBook: nothing was counted, a difference has no reason, or a doubtful count no tick.
        ValidationError: what was counted and used since would leave less than nothing.
    """
    take_version(take, seen_version)
    if not take.is_open:
        raise StockTakeOver(take)
    standings = standings_of_take(take)
    if not standings:
        raise CannotBook("Nothing was counted yet. Count something, or give it up.")
    differences = differences_of(take, standings)
    if differences and not reason.strip():
        raise CannotBook("Say why it differs, or that nobody knows.")
    doubted = [one.item.pk for one in differences if one.doubt and sure.get(one.item.pk) != one.count.counted]
    if doubted:
        raise CannotBook("Some counts look like a slip. Count them again, or tick that they are right.", doubted)
    for one in differences:
        _correct(take, one, reason, by)
    _end(take, StockTake.State.BOOKED, reason, by)
    return len(differences)


@transaction.atomic
def give_up_stock_take(*, take: StockTake, seen_version: int, reason: str, by: User | None) -> None:
    """End it without booking anything. Raises StockTakeOver, and CannotBook without a reason."""
    take_version(take, seen_version)
    if not take.is_open:
        raise StockTakeOver(take)
    if not reason.strip():
        raise CannotBook("Say why it is given up.")
    _end(take, StockTake.State.GIVEN_UP, reason, by)


def _correct(take: StockTake, one: Difference, reason: str, by: User | None) -> None:
    item, level = one.item, level_of(one.item)
    if level + one.difference < 0:
        counted = measured(one.count.counted, item.part)
        raise ValidationError(
            f"“{item.part.description}”: {counted} were counted, and more than that was used since. Count it again."
        )
    correct_by(item=item, difference=one.difference, by=by, note=f"Stock-take {take.number}: {reason.strip()}")


def _end(take: StockTake, state: StockTake.State, reason: str, by: User | None) -> None:
    take.state, take.reason, take.ended_by, take.ended_at = state, reason.strip(), by, timezone.now()
    take.full_clean(exclude=["shop", "started_by", "ended_by"])
    take.save()
