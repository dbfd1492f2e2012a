"""What is to be ordered, by supplier: changed by hand, and made into orders."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from specs.models import Part
from workshop.promise.expected import ExpectedOfPart, expected_in_stores
from workshop.staff.models import Shop
from workshop.stock.basket import Basket, BasketRow, ByHand, basket_of, bring_back, keep_by_hand
from workshop.stock.basket_rows import RowsChanged, SeenRow, mark_of
from workshop.stock.lead_times import lead_times
from workshop.stock.models import StockItem
from workshop.stock.ordering import OrderedMeanwhile, place_order
from workshop.stock.price_updates import let_prices_come_due
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.sharing import Want
from workshop.stock.typed_amounts import NoAmount, read_amount, read_amounts
from workshop.stores.basket_pages import pages_of
from workshop.tickets.models import PartLine
from workshop.web.converters import key_from
from workshop.web.number_words import figures
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.work.part_lines import PartLineRefused, swap_part
from workshop.work.succession import price_change_words

REFUSED, CONFLICT = 422, 409
ROWS_A_SUPPLIER, ROWS_A_PAGE = 20, 40


@require_GET
@anyone_in_the_shop
def to_order(request: ShopRequest) -> HttpResponse:
    let_prices_come_due(request.shop.pk)
    return _to_order(request)


@require_POST
@anyone_in_the_shop
@sent_once
def order_parts(request: ShopRequest) -> HttpResponse:
    """Make a purchase list of what was ticked for one supplier, or with `keep` only keep what was changed."""
    chosen = {pk for pk in map(key_from, request.POST.getlist("item")) if pk is not None}
    typed = read_amounts(request.POST, "quantity")
    keep = "keep" in request.POST
    refused_rows = {pk: reason for pk, reason in typed.refused.items() if keep or pk in chosen}
    if refused_rows:
        return _to_order(request, REFUSED, typed=request.POST, refused_rows=refused_rows)
    try:
        if keep:
            return _keep(request, typed.amounts, chosen)
        order = _order(request, {pk: amount for pk, amount in typed.amounts.items() if pk in chosen})
    except RowsChanged as refused:
        return _to_order(request, CONFLICT, refusal=str(refused), typed=request.POST, refused_rows=refused.reasons)
    except OrderedMeanwhile as refused:
        return _to_order(request, CONFLICT, refusal=str(refused), typed=request.POST)
    except ValidationError as refused:
        return _to_order(request, REFUSED, refusal=" ".join(refused.messages), typed=request.POST)
    messages.success(request, f"Order {order.number} is saved. Print it, save it or mail it to the supplier.")
    return redirect("stores:order", order.number)


def _order(request: ShopRequest, quantities: Mapping[int, Decimal]) -> PurchaseOrder:
    """Order them; what somebody else changed by hand since the page was opened is looked at first."""
    supplier = request.POST.get("supplier", "")
    return place_order(
        shop=request.shop,
        supplier=supplier,
        quantities=quantities,
        by=request.user,
        note=request.POST.get("note", "")[:120],
        seen_order=key_from(request.POST.get("seen_order")),
        seen_hands={pk: one.hand for pk, one in _seen(request.POST).items()},
    )


def _keep(request: ShopRequest, amounts: Mapping[int, Any], chosen: set[int]) -> HttpResponse:
    seen = _seen(request.POST)
    rows = {pk: _typed_row(request.POST, pk, amount, chosen) for pk, amount in amounts.items()}
    kept = keep_by_hand(shop=request.shop, rows=rows, by=request.user, seen=seen)
    messages.success(request, f"Kept: {kept} changed by hand." if kept else "Nothing is different from before.")
    return redirect("stores:to_order")


def _typed_row(typed: QueryDict, pk: int, amount: Decimal, chosen: set[int]) -> ByHand:
    return ByHand(amount, typed.get(f"supplier-{pk}", "")[:80], left_out=pk not in chosen)


def _seen(typed: QueryDict) -> dict[int, SeenRow]:
    """The rows as the page showed them: quantity, tick, mark and supplier, in a hidden field of each."""
    seen = {}
    for name, text in typed.items():
        key = key_from(name.removeprefix("seen-")) if name.startswith("seen-") else None
        parts = str(text).split("|", 3)
        if key is None or len(parts) != len(("quantity", "ticked", "mark", "supplier")):
            continue
        quantity, ticked, hand, supplier = parts
        try:
            seen[key] = SeenRow(ByHand(read_amount(quantity), supplier, left_out=not ticked), hand)
        except NoAmount:
            continue
    return seen


@require_POST
@anyone_in_the_shop
def swap_superseded(request: ShopRequest, pk: int) -> HttpResponse:
    """On a ticket's line the part that superseded its own."""
    line = get_object_or_404(PartLine.objects.select_related("ticket", "part"), ticket__shop=request.shop, pk=pk)
    was, other = line.title, Part.objects.filter(pk=key_from(request.POST.get("other")) or 0).first()
    try:
        swap_part(line=line, other=other, by=request.user)
    except PartLineRefused as refused:
        messages.error(request, str(refused))
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    else:
        messages.success(request, f"Ticket {line.ticket.number} has “{line.title}” now instead of “{was}”.")
    return redirect("stores:to_order")


@require_POST
@anyone_in_the_shop
def as_suggested(request: ShopRequest, pk: int) -> HttpResponse:
    """What was changed by hand of an item is gone."""
    item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    bring_back(item=item)
    messages.success(request, f"“{item.part.description}” is as suggested again.")
    return redirect("stores:to_order")


def _to_order(
    request: ShopRequest,
    status: int = 200,
    *,
    refusal: str = "",
    typed: QueryDict | None = None,
    refused_rows: Mapping[int, str] = MappingProxyType({}),
) -> HttpResponse:
    """`?also=` names an item that is to be on the list though nothing lacks of it, `?all=` a supplier with all rows.

    Else a page has the first rows of some suppliers; the one that was sent, or sells `also`, is on the page shown.
    """
    also = (request.GET if typed is None else typed).get("also", "")
    expected = expected_in_stores(request.shop)
    ahead = {one.row.item.pk: one.suggested for one in expected.values() if one.row is not None and one.missing}
    basket = basket_of(request.shop, key_from(also), ahead)
    leads = lead_times(request.shop)
    alone = request.GET.get("all") if typed is None else None
    pages = _pages(basket, alone)
    number = _page_shown(request, basket, pages, key_from(also), typed)
    suppliers = [
        (
            name,
            leads.get(name),
            name in basket.archived,
            [
                _shown(row, expected.get(row.standing.item.part_id), typed, refused_rows)
                for row in _first_of(rows, typed, key_from(also), all_of_it=name == alone)
            ],
            len(rows),
        )
        for name, rows in (basket.by_supplier[place] for place in pages[number - 1])
    ]
    context = {
        "suppliers": suppliers,
        "is_alone": alone is not None,
        "page": number,
        "pages": len(pages),
        "rows_in_all": sum(len(rows) for _, rows in basket.by_supplier),
        "places": _places(basket, pages),
        "every_row": [row for *_, rows, _ in suppliers for row in rows],
        "basket": basket,
        "swaps": _swaps(request.shop, basket),
        "also": also,
        "not_kept": basket.not_kept,
        "expected_not_kept": [one for one in expected.values() if one.row is None and one.missing],
        "refused": bool(refusal or refused_rows),
        "refusal_title": "Nothing is kept yet" if typed is not None and "keep" in typed else "Nothing is ordered yet",
        "refusal": refusal,
        "typed": typed or {},
    }
    return render(request, "stores/to_order.html", context, status=status)


@dataclass(frozen=True)
class _Swap:
    """A ticket's line that waits for a superseded part, and what its price would become, in words."""

    want: Want
    old: StockItem
    new: StockItem
    price_words: str


def _swaps(shop: Shop, basket: Basket) -> list[_Swap]:
    """Lines of tickets that wait for a superseded part; one query where there are any."""
    waiting = [
        (share.want, old.item, new.item)
        for new, superseded in basket.took_over
        for old in superseded
        for share in old.missing_shares
    ]
    lines = [want.line_pk for want, *_ in waiting]
    prices = dict(PartLine.objects.filter(pk__in=lines).values_list("pk", "unit_price")) if lines else {}
    return [
        _Swap(want, old, new, price_change_words(prices[want.line_pk], new.price, shop))
        for want, old, new in waiting
        if want.line_pk in prices
    ]


def _pages(basket: Basket, alone: str | None) -> list[list[int]]:
    """The places of suppliers in the basket, page by page; of `alone` all rows stand on the only page."""
    names = [name for name, _ in basket.by_supplier]
    if alone in names:
        return [[names.index(alone)]]
    return pages_of([len(rows) for _, rows in basket.by_supplier], ROWS_A_SUPPLIER, ROWS_A_PAGE)


def _page_shown(
    request: ShopRequest, basket: Basket, pages: list[list[int]], also: int | None, typed: QueryDict | None
) -> int:
    """The page that was asked for; else that of the supplier that was sent, or that sells the item of `also`."""
    asked = key_from(request.GET.get("page"))
    if asked is not None:
        return min(max(asked, 1), len(pages))
    for number, places in enumerate(pages, 1):
        for name, rows in (basket.by_supplier[place] for place in places):
            if typed is not None and name == typed.get("supplier"):
                return number
            if also is not None and any(row.standing.item.pk == also for row in rows):
                return number
    return 1


def _places(basket: Basket, pages: list[list[int]]) -> list[dict[str, Any]]:
    """Where each supplier stands, to go there; nothing where all are on one page."""
    if len(pages) == 1:
        return []
    return [
        {"supplier": basket.by_supplier[place][0], "rows": len(basket.by_supplier[place][1]), "page": number, "at": at}
        for number, places in enumerate(pages, 1)
        for at, place in enumerate(places, 1)
    ]


def _first_of(
    rows: Sequence[BasketRow], typed: QueryDict | None, also: int | None, *, all_of_it: bool
) -> Sequence[BasketRow]:
    """The first of a supplier's rows, what tickets lack before what is at its mark, whatever somebody typed in, and
    the one that was asked for."""
    if all_of_it:
        return rows
    sent: Collection[str] = typed or ()
    keys = [row.standing.item.pk for row in rows]
    return [
        row
        for place, (key, row) in enumerate(zip(keys, rows, strict=True))
        if place < ROWS_A_SUPPLIER or key == also or f"quantity-{key}" in sent
    ]


def _shown(
    row: BasketRow, expected: ExpectedOfPart | None, typed: QueryDict | None, refused_rows: Mapping[int, str]
) -> dict[str, Any]:
    """What is only expected to be needed is not ticked: somebody decides whether to order ahead.

    After a refusal a row has what was typed; one that was sent as it was shown has what holds now.
    """
    item = row.standing.item
    name = f"quantity-{item.pk}"
    mine = typed if typed is not None and name in typed and not _as_it_was(typed, item.pk) else None
    sells_several = len(row.suppliers) > 1
    return {
        "basket": row,
        "standing": row.standing,
        "expected": expected,
        "name": name,
        "label": item.part.description,
        "value": mine.get(name, "") if mine else figures(row.quantity),
        "packs": figures(row.quantity / row.offer.pack) if row.offer is not None and row.offer.pack != 1 else "",
        "chosen": str(item.pk) in mine.getlist("item") if mine else not row.is_ahead,
        "from": mine.get(f"supplier-{item.pk}", row.supplier) if mine else row.supplier,
        "error": refused_rows.get(item.pk, ""),
        "seen": "|".join((
            figures(row.quantity),
            "" if row.is_ahead else "1",
            mark_of(row.hand),
            row.supplier if sells_several else "",
        )),
    }  # fmt: skip


def _as_it_was(typed: QueryDict, pk: int) -> bool:
    """Whether a row was sent as the page had shown it."""
    seen = _seen(typed).get(pk)
    if seen is None:
        return False
    chosen = {key for key in map(key_from, typed.getlist("item")) if key is not None}
    try:
        return _typed_row(typed, pk, read_amount(typed.get(f"quantity-{pk}", "")), chosen) == seen.shown
    except NoAmount:
        return False
