"""The Stores: what is there, what is short, and what goes in and out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from specs.models import KitLine
from workshop.counter.saving import edit_page, put_beside_fields
from workshop.plots.glance import glance
from workshop.promise.expected import expected_in_stores
from workshop.staff.roles import Right
from workshop.stock.amounts import bottles_in_words, measured
from workshop.stock.batch_shares import batches_here
from workshop.stock.batches import asks_for_batch, receive_batch, write_off_of
from workshop.stock.keeping import change_item, keep_part
from workshop.stock.ledger import ledger_of
from workshop.stock.models import StockItem
from workshop.stock.moving import NOTHING, NotEnoughInStock, count, level_of
from workshop.stock.price_models import NewPrice
from workshop.stock.price_updates import let_prices_come_due
from workshop.stock.reorder_points import suggestions_of
from workshop.stock.shortages import stores_standing
from workshop.stock.stock_list import stock_of, suppliers_of, with_code
from workshop.stores.batch_forms import PutIntoForm
from workshop.stores.forms import CountForm, ItemForm, KeepForm, ReceiveForm, WriteOffForm
from workshop.stores.reorder_drawing import chances_drawn
from workshop.tickets.models import PartLine
from workshop.web.converters import key_from
from workshop.web.number_words import figures
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import take_version
from workshop.work.giving_parts import give_back, give_part
from workshop.work.part_lines import PartLineRefused

ROWS_A_PAGE = 50
MOVEMENTS_SHOWN = 50
PRICES_SHOWN = 20
MOST_OF_WHY = 120
REFUSED = 422


@require_GET
@anyone_in_the_shop
def stock(request: ShopRequest) -> HttpResponse:
    let_prices_come_due(request.shop.pk)
    wanted = request.GET.get("q", "").strip()[:60]
    only_short = request.GET.get("show") == "short"
    if wanted and "page" not in request.GET and (scanned := with_code(request.shop, wanted)) is not None:
        return redirect("stores:item", scanned.pk)
    items = stock_of(request.shop, wanted=wanted, only_short=only_short)
    page = Paginator(items, ROWS_A_PAGE).get_page(request.GET.get("page"))
    expected = expected_in_stores(request.shop)
    return render(
        request,
        "stores/stock.html",
        {
            "page": page,
            "rows": [(one, expected.get(one.part_id)) for one in page],
            "wanted": wanted,
            "only_short": only_short,
            "may_change_part": request.user.may(Right.KEEP_PARTS),
        },
    )


@require_GET
@anyone_in_the_shop
def item(request: ShopRequest, pk: int) -> HttpResponse:
    return show_item(request, pk)


@require_POST
@anyone_in_the_shop
@sent_once
def receive_item(request: ShopRequest, pk: int) -> HttpResponse:
    return _move(request, pk, "receive", receive_batch)


@require_POST
@anyone_in_the_shop
def count_item(request: ShopRequest, pk: int) -> HttpResponse:
    return _move(request, pk, "count", count)


@require_POST
@anyone_in_the_shop
@sent_once
def write_off_item(request: ShopRequest, pk: int) -> HttpResponse:
    return _move(request, pk, "write_off", partial(write_off_of, batch=None))


@require_POST
@anyone_in_the_shop
@sent_once
def give(request: ShopRequest, pk: int) -> HttpResponse:
    """Keep it for one ticket first, or by the order of promises again."""
    the_item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    lines = PartLine.objects.filter(ticket__shop=request.shop, part=the_item.part_id)
    line = get_object_or_404(lines.select_related("part", "ticket__shop"), pk=key_from(request.POST.get("line")) or 0)
    why = request.POST.get("why", "")[:MOST_OF_WHY]
    try:
        if "back" in request.POST:
            give_back(line=line, by=request.user)
            said = f"Kept by the order of promises again: {the_item.part.description}."
        else:
            short = give_part(line=line, why=why, by=request.user)
            numbers = " and ".join(dict.fromkeys(str(share.want.number) for share in short))
            said = f"Kept for ticket {line.ticket.number} first. Ticket {numbers} stands behind it now."
    except (ValidationError, PartLineRefused) as refused:
        reason = " ".join(refused.messages) if isinstance(refused, ValidationError) else str(refused)
        return show_item(request, pk, REFUSED, give_refused={"line": line.pk, "why": why, "reason": reason})
    messages.success(request, said)
    return redirect("stores:item", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def edit(request: ShopRequest, pk: int) -> HttpResponse:
    let_prices_come_due(request.shop.pk)
    the_item = get_object_or_404(StockItem.objects.select_related("part", "shop"), shop=request.shop, pk=pk)
    sets_prices = request.user.may(Right.SET_PRICES)

    def form_of(stored: StockItem) -> ItemForm:
        return ItemForm.of(stored) if sets_prices else ItemForm.of(stored).without_prices()

    form = ItemForm(request.POST) if request.method == "POST" else form_of(the_item)
    if request.method == "POST" and not sets_prices:
        form = form.without_prices()

    def save(seen: int) -> StockItem:
        with transaction.atomic():
            held = take_version(the_item, seen)
            terms = {"price": held.price, "cost": held.cost, **form.cleaned_data}
            return change_item(item=held, by=request.user, **terms)

    done = reverse("stores:item", args=[pk])
    return edit_page(
        request,
        template="stores/edit.html",
        form=form,
        version=the_item.version,
        save=save,
        form_of=form_of,
        done_url=done,
        said="The terms are saved.",
        context={"item": the_item, "keep_url": done, "suppliers": suppliers_of(request.shop)},
    )


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def add(request: ShopRequest) -> HttpResponse:
    form = KeepForm(request.shop, request.POST or None, initial={"part": request.GET.get("part", "")})
    if request.method == "POST" and form.is_valid():
        try:
            kept = keep_part(shop=request.shop, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "It has a place now. Receive or count what is there.")
            return redirect("stores:item", kept.pk)
    status = REFUSED if form.is_bound else 200
    context = {"form": form, "keep_url": reverse("stores:stock"), "suppliers": suppliers_of(request.shop)}
    return render(request, "stores/edit.html", context, status=status)


def _forms(item: StockItem, **data: QueryDict) -> dict[str, ReceiveForm | CountForm | WriteOffForm]:
    """The forms of what moves a part, by name; `data` is what was sent of one."""
    received = partial(ReceiveForm, asks_batch=asks_for_batch(item))
    return {
        name: form(data.get(name), part=item.part, auto_id=f"{name.replace('_', '-')}-%s")
        for name, form in (("receive", received), ("count", CountForm), ("write_off", WriteOffForm))
    }


def _move(request: ShopRequest, pk: int, name: str, change: Callable[..., Any]) -> HttpResponse:
    the_item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    form = _forms(the_item, **{name: request.POST})[name]
    if form.is_valid():
        try:
            moved = change(item=the_item, by=request.user, **form.movement)
        except ValidationError as refused:
            named = hasattr(refused, "error_dict")
            form.add_error(None if named else next(iter(form.fields)), refused)
        except NotEnoughInStock as refused:
            form.add_error(next(iter(form.fields)), str(refused))
        else:
            level = measured(level_of(the_item), the_item.part)
            said = f"Now {level} in the stores." if moved is not None else f"It agrees: {level} in the stores."
            if name == "receive" and the_item.part.bottle_ml is not None:
                bottles = figures(moved.quantity / the_item.part.bottle_ml)
                said = f"{bottles} × {figures(the_item.part.bottle_ml)} ml came in. {said}"
            messages.success(request, said)
            return redirect("stores:item", pk)
    return show_item(request, pk, REFUSED, **{f"{name}_form": form})


def show_item(request: ShopRequest, pk: int, status: int = 200, **refused: Any) -> HttpResponse:
    let_prices_come_due(request.shop.pk)
    the_item = get_object_or_404(stock_of(request.shop), pk=pk)
    (standing,) = stores_standing(request.shop, only_parts={the_item.part_id}).items
    (suggestion,) = suggestions_of(request.shop, the_item)
    drawing = None if suggestion.point is None else chances_drawn(suggestion.point, suggestion.use)
    held, today, forms = batches_here(the_item), timezone.localdate(), _forms(the_item)
    if held:
        forms["write_off"].fields["quantity"].help_text = "Of what has no batch. The rest is written off at its batch."
    context = {
        "item": the_item,
        "batches": [(batch, batch.is_over(today)) for batch in held],
        "without_batch": standing.level - sum((batch.level for batch in held), NOTHING),  # type: ignore[attr-defined]
        "put_into_form": PutIntoForm(auto_id="put-into-%s"),
        "standing": standing,
        "expected": expected_in_stores(request.shop).get(the_item.part_id),
        "suggestion": suggestion,
        "drawing": drawing,
        "drawing_small": drawing and glance(drawing),
        "movements": ledger_of(the_item, standing.level, MOVEMENTS_SHOWN),
        "kit_lines": KitLine.objects.filter(part=the_item.part_id).select_related("kit__model"),
        "other_numbers": the_item.part.other_numbers.all(),
        "stand_ins": the_item.part.stand_ins.select_related("other"),
        "offers": the_item.offers.select_related("supplier"),
        "bottles": bottles_in_words(standing.level, the_item.part.bottle_ml),
        "new_prices": NewPrice.objects.filter(item=the_item, update__applied_at=None, update__undone_at=None)
        .select_related("update__by")
        .order_by("update__from_on", "pk"),
        "price_changes": the_item.price_changes.select_related("by", "update").order_by("-pk")[:PRICES_SHOWN],
        "may_change_part": request.user.may(Right.KEEP_PARTS),
        **{f"{name}_form": form for name, form in forms.items()},
        **refused,
    }
    return render(request, "stores/item.html", context, status=status)
