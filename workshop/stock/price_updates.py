"""New prices together: worked out for a preview, kept for a day, coming into effect, and undone as a whole."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import Shop, User
from workshop.stock.models import PriceChange, StockItem
from workshop.stock.price_models import NewPrice, PriceUpdate
from workshop.stock.rounding import FINEST, LEAST_PERCENT, MOST_PERCENT, changed
from workshop.web.number_words import figures
from workshop.web.plausible_days import DayKind, refuse_day

What = NewPrice.What
DAY_IS_OVER = "That day is over, and what was charged since stands. Choose today or later."


class PricesMoved(ValueError):
    """Prices are no longer those of the preview; nothing is changed."""

    def __init__(self) -> None:
        super().__init__("Somebody changed some of these prices meanwhile. Look at them again; nothing was changed.")


class UndoneAlready(ValidationError):
    """It was undone before."""


@dataclass(frozen=True)
class PricesWanted:
    """Which prices change, by how much: `role` and `supplier` are empty for all."""

    what: str
    percent: Decimal
    step: Decimal
    role: str = ""
    supplier: str = ""

    @property
    def words(self) -> str:
        of = " ".join(
            filter(
                None,
                (
                    f"of {str(Part.Role(self.role).label).lower()}" if self.role else "of all parts",
                    f"from {self.supplier}" if self.supplier else "",
                ),
            )
        )
        way = "up" if self.percent > 0 else "down"
        rule = f"rounded to {figures(self.step)}" if self.step != 1 else "rounded to whole ones"
        return f"{What(self.what).label}s {of} {way} by {figures(abs(self.percent))} %, {rule}"


@dataclass(frozen=True)
class Row:
    """An item with its price and what it becomes; `why` it stays as it is, where it does."""

    item: StockItem
    old: Decimal
    new: Decimal
    why: str = ""

    @property
    def changes(self) -> bool:
        return self.new != self.old


def rows_of_update(shop: Shop, wanted: PricesWanted) -> list[Row]:
    """Every price that is meant, by part number; a cost that is not known is left out. One query."""
    items = StockItem.objects.filter(shop=shop).select_related("part").order_by("part__number")
    if wanted.role:
        items = items.filter(part__role=wanted.role)
    if wanted.supplier:
        items = items.filter(supplier=wanted.supplier)
    rows = []
    for item in items:
        old = item.price if wanted.what == What.PRICE else item.cost
        if old is not None:
            # A ml costs a few hundredths of a cent: its price is rounded as finely as prices go.
            step = FINEST if item.part.measure == Part.Measure.ML else wanted.step
            new = changed(old, wanted.percent, step)
            rows.append(Row(item, old, new.price, new.why))
    return rows


def digest_of_rows(rows: Iterable[Row]) -> str:
    """Says whether two previews are the same."""
    told = "\n".join(f"{row.item.pk} {row.old} {row.new}" for row in rows)
    return hashlib.sha256(told.encode()).hexdigest()


@transaction.atomic
def change_prices(
    *, shop: Shop, wanted: PricesWanted, from_on: dt.date, seen_digest: str, by: User | None
) -> PriceUpdate:
    """Change them as the preview showed, today or on a day to come.

    Raises:
        PricesMoved: they are not those of the preview any more.
        ValidationError: no per cent or too many, a day that is over or too far ahead, or nothing changes.
    """
    refuse_percent(wanted.percent)
    list(StockItem.objects.select_for_update(no_key=True).filter(shop=shop).order_by("pk").values_list("pk"))
    rows = rows_of_update(shop, wanted)
    if digest_of_rows(rows) != seen_digest:
        raise PricesMoved
    lines = [NewPrice(item=row.item, what=wanted.what, old=row.old, new=row.new) for row in rows if row.changes]
    return keep_update(shop=shop, words=wanted.words, rounding=wanted.step, from_on=from_on, lines=lines, by=by)


def refuse_percent(percent: Decimal) -> None:
    """Raises ValidationError for a change that cannot be meant."""
    if percent == 0:
        raise ValidationError({"percent": "Enter by how much prices change: 3 for dearer, -3 for cheaper."})
    if not LEAST_PERCENT <= percent <= MOST_PERCENT:
        raise ValidationError({"percent": f"Enter from {LEAST_PERCENT} to {MOST_PERCENT} per cent at a time."})


@transaction.atomic
def keep_update(
    *,
    shop: Shop,
    words: str,
    from_on: dt.date,
    lines: Sequence[NewPrice],
    by: User | None,
    rounding: Decimal | None = None,
) -> PriceUpdate:
    """Keep new prices for their day; those of today come into effect at once.

    Raises ValidationError: a day that is over or too far ahead, or nothing changes.
    """
    if from_on < timezone.localdate():
        raise ValidationError({"from_on": DAY_IS_OVER})
    refuse_day("from_on", from_on, DayKind.EXPECTED)
    if not lines:
        raise ValidationError("No price changes by that. Nothing was changed.")
    update = PriceUpdate(shop=shop, words=words[:200], rounding=rounding, from_on=from_on, by=by, at=timezone.now())
    update.full_clean(exclude=["shop", "by", "undone_by"])
    update.save()
    for line in lines:
        line.update = update
    NewPrice.objects.bulk_create(lines, batch_size=500)
    if from_on == timezone.localdate():
        _apply(update)
    return update


def let_prices_come_due(shop_pk: int) -> None:
    """Bring into effect what is kept for today or a day before; one query where there is nothing."""
    today = timezone.localdate()
    due = PriceUpdate.objects.filter(shop=shop_pk, from_on__lte=today, applied_at=None, undone_at=None)
    if not due.exists():
        return
    with transaction.atomic():
        for update in due.select_for_update().order_by("from_on", "pk"):
            _apply(update)


@transaction.atomic
def undo_update(*, update: PriceUpdate, by: User | None) -> list[StockItem]:
    """Take all of it back, or call it off before its day. Gives items that somebody priced since; theirs stands.

    Raises UndoneAlready.
    """
    now = timezone.now()
    undone = PriceUpdate.objects.filter(pk=update.pk, undone_at=None).update(undone_at=now, undone_by=by)
    if not undone:
        raise UndoneAlready("This was taken back already.")
    update.refresh_from_db()
    if update.applied_at is None:
        return []
    back, since = [], []
    for line, item in _with_items(update):
        if getattr(item, line.what) == line.new and (line.old is not None or line.what == What.COST):
            back.append((line, item, line.old))
        else:
            since.append(item)
    _write(update, back, by)
    return since


def _apply(update: PriceUpdate) -> None:
    lines = _with_items(update)
    for line, item in lines:
        line.old = getattr(item, line.what)
    NewPrice.objects.bulk_update([line for line, _ in lines], ["old"], batch_size=500)
    _write(update, [(line, item, line.new) for line, item in lines], update.by)
    update.applied_at = timezone.now()
    update.save(update_fields=["applied_at"])


def _with_items(update: PriceUpdate) -> list[tuple[NewPrice, StockItem]]:
    """The lines with their items as they are, held until the end of the transaction."""
    lines = list(update.lines.order_by("item"))
    held = StockItem.objects.select_for_update(no_key=True).filter(new_prices__update=update).order_by("pk")
    items = {item.pk: item for item in held}
    return [(line, items[line.item_id]) for line in lines]


def _write(update: PriceUpdate, changes: Sequence[tuple[NewPrice, StockItem, Decimal | None]], by: User | None) -> None:
    """Set prices and leave their traces; a form that was opened before is told by the version."""
    now = timezone.now()
    traces, items = [], {}
    for line, item, price in changes:
        stored = getattr(item, line.what)
        if stored != price:
            traces.append(PriceChange(item=item, what=line.what, old=stored, new=price, update=update, by=by, at=now))
            setattr(item, line.what, price)
            items[item.pk] = item
    PriceChange.objects.bulk_create(traces, batch_size=500)
    StockItem.objects.bulk_update(items.values(), ["price", "cost"], batch_size=500)
    for start in range(0, len(items), 500):
        StockItem.objects.filter(pk__in=list(items)[start : start + 500]).update(version=F("version") + 1)
