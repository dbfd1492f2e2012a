"""What is to be ordered, by supplier: filled by what is short and at its mark, changed by hand until it is ordered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from types import MappingProxyType

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from specs.models import Part
from specs.stand_ins import chain_of, superseded_parts
from workshop.staff.models import Shop, User
from workshop.stock.basket_rows import ByHand as ByHand
from workshop.stock.basket_rows import SeenRow, refuse_changed
from workshop.stock.models import StockItem
from workshop.stock.order_standing import check_amount
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.sharing import NOTHING, suggested_order
from workshop.stock.shortages import ItemStanding, NotKept, stores_standing
from workshop.stock.supplier_models import BasketLine, Supplier, SupplierPart


@dataclass(frozen=True)
class BasketRow:
    """One item: what the stores suggest, what somebody made of it, and from whom.

    `suggested` and `quantity` are in pieces or ml, whole packs of the supplier. `stands_for` are superseded parts of
    which tickets lack some.
    """

    standing: ItemStanding
    supplier: str
    offer: SupplierPart | None
    suppliers: Sequence[str]
    suggested: Decimal
    quantity: Decimal
    hand: BasketLine | None
    stands_for: Sequence[ItemStanding] = ()
    superseded_by: Part | None = None
    is_ahead: bool = False

    @property
    def is_firm(self) -> bool:
        """Whether a ticket lacks some, so that it comes before what is only at its mark."""
        return bool(self.standing.missing) or any(one.missing for one in self.stands_for)


@dataclass(frozen=True)
class Basket:
    """Rows by supplier, firm shortages first; what was left out by hand; what the shop keeps no place for.

    `took_over` has each kept part with the superseded ones that tickets lack, even where nothing is to order.
    """

    by_supplier: Sequence[tuple[str, Sequence[BasketRow]]]
    left_out: Sequence[BasketRow]
    not_kept: Sequence[NotKept]
    newest_order: int
    archived: Collection[str]
    took_over: Sequence[tuple[ItemStanding, Sequence[ItemStanding]]] = ()


def basket_of(shop: Shop, also: int | None = None, ahead: Mapping[int, Decimal] = MappingProxyType({})) -> Basket:
    """In nine queries, however many parts there are; `also` is an item that is to be in it though nothing lacks.

    `ahead` has how much is likely to be needed of items, by their keys: they are in it for somebody to decide on.
    """
    standing = stores_standing(shop)
    hands = {line.item_id: line for line in BasketLine.objects.filter(item__shop=shop).select_related("by")}
    offers: dict[int, dict[str, SupplierPart]] = defaultdict(dict)
    for offer in SupplierPart.objects.filter(item__shop=shop).select_related("supplier"):
        offers[offer.item_id][offer.supplier.name] = offer
    after, for_whom = _successions(standing.items)
    rows = []
    for one in standing.items:
        item, hand = one.item, hands.get(one.item.pk)
        suggested = NOTHING if item.part_id in after else _suggested(one, for_whom.get(item.part_id, ()))
        if not suggested and hand is None and item.pk != also and item.pk not in ahead:
            continue
        supplier = hand.supplier if hand is not None and hand.supplier else item.supplier
        mine = offers.get(item.pk, {})
        row = _row(one, supplier, mine, suggested, hand, for_whom.get(item.part_id, ()), after.get(item.part_id))
        rows.append(row if row.suggested or hand is not None or item.pk not in ahead else _ahead(row, ahead[item.pk]))
    by_supplier: dict[str, list[BasketRow]] = defaultdict(list)
    for row in sorted(rows, key=lambda row: (not row.is_firm, row.standing.item.part.number)):
        if row.hand is None or not row.hand.left_out:
            by_supplier[row.supplier].append(row)
    newest = PurchaseOrder.objects.filter(shop=shop).aggregate(newest=Max("number"))["newest"]
    archived = set(Supplier.objects.filter(shop=shop, archived_at__isnull=False).values_list("name", flat=True))
    return Basket(
        by_supplier=sorted(by_supplier.items(), key=lambda pair: (not pair[0], pair[0])),
        left_out=[row for row in rows if row.hand is not None and row.hand.left_out],
        not_kept=standing.not_kept,
        newest_order=newest or 0,
        archived=archived,
        took_over=[(one, for_whom[one.item.part_id]) for one in standing.items if one.item.part_id in for_whom],
    )


def _successions(items: Sequence[ItemStanding]) -> tuple[dict[int, Part], dict[int, list[ItemStanding]]]:
    """What took the place of each kept part, where that is kept too; and whose shortages each such part takes over."""
    kept = {one.item.part_id: one for one in items}
    superseded = superseded_parts()
    after: dict[int, Part] = {}
    for_whom: dict[int, list[ItemStanding]] = defaultdict(list)
    for part_pk, one in kept.items():
        last = next((pk for pk in reversed(chain_of(part_pk, superseded)) if pk in kept), part_pk)
        if last != part_pk:
            after[part_pk] = kept[last].item.part
            if one.missing:
                for_whom[last].append(one)
    return after, for_whom


def _suggested(one: ItemStanding, stands_for: Sequence[ItemStanding]) -> Decimal:
    if not stands_for:
        return one.suggested
    wanted = one.wanted + sum((other.missing for other in stands_for), NOTHING)
    return suggested_order(one.level, one.on_order, wanted, one.item.reorder_level, one.item.part.bottle_ml)


def _row(
    one: ItemStanding,
    supplier: str,
    offers: Mapping[str, SupplierPart],
    suggested: Decimal,
    hand: BasketLine | None,
    stands_for: Sequence[ItemStanding],
    superseded_by: Part | None,
) -> BasketRow:
    offer = offers.get(supplier)
    pack = offer.pack if offer is not None else Decimal(1)
    suggested = in_packs(suggested, pack)
    usual = suggested or in_packs(one.item.part.bottle_ml or Decimal(1), pack)
    quantity = hand.quantity if hand is not None and hand.quantity is not None else usual
    known = sorted({*offers, *filter(None, [supplier, one.item.supplier])})
    return BasketRow(one, supplier, offer, known, suggested, quantity, hand, stands_for, superseded_by)


def _ahead(row: BasketRow, likely: Decimal) -> BasketRow:
    """What nobody lacks yet: the quantity is what is likely to be needed, and it is not ordered by itself."""
    return replace(row, is_ahead=True, quantity=in_packs(likely, row.offer.pack if row.offer else Decimal(1)))


def in_packs(quantity: Decimal, pack: Decimal) -> Decimal:
    """At least so much, in whole packs."""
    return quantity if pack == 1 else (quantity / pack).to_integral_value(ROUND_CEILING) * pack


@transaction.atomic
def keep_by_hand(
    *, shop: Shop, rows: Mapping[int, ByHand], by: User | None, seen: Mapping[int, SeenRow] = MappingProxyType({})
) -> int:
    """Keep what was changed of the basket, by the key of each item; how many. What is as suggested is not kept.

    Args:
        seen: rows as the page showed them: one that is sent as it was shown is left as it is now.

    Raises:
        RowsChanged: somebody else changed a row that is changed here too; nothing is kept.
        ValidationError: half a piece, or a supplier that does not sell the part.
    """
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    rows = {pk: typed for pk, typed in rows.items() if pk not in seen or typed != seen[pk].shown}
    refuse_changed(rows, {pk: one.hand for pk, one in seen.items()})
    shown = {row.standing.item.pk: row for row in _rows_of(basket_of(shop))}
    items = {item.pk: item for item in StockItem.objects.filter(shop=shop, pk__in=rows).select_related("part")}
    kept = 0
    for pk, typed in rows.items():
        item, row = items.get(pk), shown.get(pk)
        if item is None:
            raise ValidationError("A part is no longer kept. Look at the list again.")
        sells = row.suppliers if row is not None else [item.supplier]
        if typed.supplier and typed.supplier not in sells:
            raise ValidationError(f"“{item.part.description}” does not come from {typed.supplier}.")
        if row is None and typed.left_out:  # only likely to be needed, and left so
            continue
        check_amount(item.part, typed.quantity)
        other = typed.supplier if typed.supplier != item.supplier else ""
        if row is not None and row.suggested == typed.quantity and not other and not typed.left_out:
            BasketLine.objects.filter(item=item).delete()
            continue
        same = BasketLine.objects.filter(item=item, quantity=typed.quantity, supplier=other, left_out=typed.left_out)
        if not same.exists():
            BasketLine.objects.update_or_create(
                item=item,
                defaults={
                    "quantity": typed.quantity, "supplier": other, "left_out": typed.left_out, "by": by,
                    "at": timezone.now(),
                },
            )  # fmt: skip
            kept += 1
    return kept


def bring_back(*, item: StockItem) -> None:
    """Take away what was changed by hand of an item: it is as suggested again."""
    BasketLine.objects.filter(item=item).delete()


def _rows_of(basket: Basket) -> list[BasketRow]:
    return [*(row for _, rows in basket.by_supplier for row in rows), *basket.left_out]
