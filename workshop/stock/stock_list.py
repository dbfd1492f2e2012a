"""The list of what the shop keeps, with levels, and what is short."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import DecimalField, F, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from specs.models import Part, PartNumber
from specs.part_search import matching, read_wanted
from workshop.staff.models import Shop
from workshop.stock.giving_up import keep_nothing
from workshop.stock.models import StockItem
from workshop.stock.moving import NOTHING, with_levels
from workshop.stock.shelf_order import natural_key
from workshop.stock.supplier_models import SupplierPart
from workshop.tickets.models import PartLine, Ticket


def stock_of(shop: Shop, *, wanted: str = "", only_short: bool = False) -> QuerySet[StockItem]:
    """Items with `level`, `needed` by open tickets, `left` after them and `short`, in two queries however many.

    Short means: the open tickets want more than is there, or what they leave is at or below the reorder mark. A mark
    of nothing is no mark.

    Args:
        wanted: words, any number, a size, a shelf or a supplier, as somebody types them.
    """
    items = with_levels(StockItem.objects.filter(shop=shop).select_related("part"))
    items = items.annotate(needed=_needed(shop)).annotate(left=F("level") - F("needed"))
    items = items.annotate(short=Q(left__lt=0) | Q(reorder_level__gt=0, left__lte=F("reorder_level")))
    for one in read_wanted(wanted):
        named = Q(shelf__icontains=one.word) | Q(supplier__icontains=one.word)
        items = items.filter(
            matching(one, "part__") | named | Q(pk__in=of_supplier_number(shop, one.word).values("item"))
        )
    if only_short:
        items = items.filter(short=True)
    return items.order_by("part__number")


def of_supplier_number(shop: Shop, word: str) -> QuerySet[SupplierPart]:
    """What any supplier sells under a number that has the word in it."""
    return SupplierPart.objects.filter(item__shop=shop, number__icontains=word).order_by()


def with_code(shop: Shop, code: str) -> StockItem | None:
    """The part whose code a scanner read, where the shop keeps it."""
    codes = PartNumber.objects.filter(kind=PartNumber.Kind.CODE, number=code)
    return StockItem.objects.filter(shop=shop, part__in=codes.values("part")).first()


def along_shelves(items: QuerySet[StockItem]) -> list[int]:
    """Their primary keys as one walks along the shelves: A2 before A10, then by part number; one query."""
    rows = items.order_by().values_list("shelf", "part__number", "pk")
    return [pk for _, _, pk in sorted(rows, key=lambda row: (natural_key(row[0]), row[1], row[2]))]


def in_that_order(item_pks: Sequence[int]) -> list[StockItem]:
    """Those items with their part and level, in that order; one query."""
    found = with_levels(StockItem.objects.filter(pk__in=item_pks).select_related("part")).in_bulk()
    return [found[pk] for pk in item_pks if pk in found]


def parts_not_kept(shop: Shop) -> QuerySet[Part]:
    """Parts of the specs that the shop has no place for yet."""
    return Part.objects.exclude(stock_items__shop=shop).order_by("number")


def suppliers_of(shop: Shop) -> list[str]:
    """Suppliers as they are written at the parts, so that the next one is written alike."""
    items = StockItem.objects.filter(shop=shop).exclude(supplier="")
    return list(items.order_by("supplier").values_list("supplier", flat=True).distinct())


def _needed(shop: Shop) -> Coalesce:
    figures = DecimalField(max_digits=11, decimal_places=2)
    lines = (
        PartLine.objects.filter(
            part=OuterRef("part"),
            status=PartLine.Status.NEEDED,
            ticket__shop=shop,
            ticket__state__in=Ticket.OPEN_STATES,
        )
        .exclude(ticket__in=keep_nothing(shop))
        .order_by()
        .values("part")
        .annotate(wanted=Sum("quantity"))
        .values("wanted")
    )
    return Coalesce(Subquery(lines, output_field=figures), Value(NOTHING, output_field=figures), output_field=figures)
