"""The list of what the shop keeps, with levels, and what is short."""

from __future__ import annotations

from django.db.models import DecimalField, F, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from specs.models import Part
from specs.part_search import matching, read_wanted
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.stock.moving import NOTHING, with_levels
from workshop.tickets.models import PartLine, Ticket


def stock_of(shop: Shop, *, wanted: str = "", only_short: bool = False) -> QuerySet[StockItem]:
    """Items with `level`, `needed` by open tickets, `left` after them and `short`, in one query however many.

    Short means: the open tickets want more than is there, or what they leave is at or below the reorder mark. A mark
    of nothing is no mark.

    Args:
        wanted: words, a size, a shelf or a supplier, as somebody types them.
    """
    items = with_levels(StockItem.objects.filter(shop=shop).select_related("part"))
    items = items.annotate(needed=_needed(shop)).annotate(left=F("level") - F("needed"))
    items = items.annotate(short=Q(left__lt=0) | Q(reorder_level__gt=0, left__lte=F("reorder_level")))
    for one in read_wanted(wanted):
        items = items.filter(matching(one, "part__") | Q(shelf__icontains=one.word) | Q(supplier__icontains=one.word))
    if only_short:
        items = items.filter(short=True)
    return items.order_by("part__number")


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
        .order_by()
        .values("part")
        .annotate(wanted=Sum("quantity"))
        .values("wanted")
    )
    return Coalesce(Subquery(lines, output_field=figures), Value(NOTHING, output_field=figures), output_field=figures)
