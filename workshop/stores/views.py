"""The Stores: what is there, what is short, and what goes in and out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from specs.models import KitLine, Part
from workshop.counter.saving import edit_page, put_beside_fields
from workshop.staff.roles import Right
from workshop.stock.amounts import bottles_in_words, measured
from workshop.stock.keeping import change_item, keep_part
from workshop.stock.ledger import ledger_of
from workshop.stock.models import StockItem
from workshop.stock.moving import NotEnoughInStock, count, level_of, receive, write_off
from workshop.stock.shortages import stores_standing
from workshop.stock.stock_list import stock_of, suppliers_of
from workshop.stores.forms import CountForm, ItemForm, KeepForm, ReceiveForm, WriteOffForm
from workshop.web.number_words import figures
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import take_version

ROWS_A_PAGE = 50
MOVEMENTS_SHOWN = 50
PRICES_SHOWN = 20
REFUSED = 422


@require_GET
@anyone_in_the_shop
def stock(request: ShopRequest) -> HttpResponse:
    wanted = request.GET.get("q", "").strip()[:60]
    only_short = request.GET.get("show") == "short"
    items = stock_of(request.shop, wanted=wanted, only_short=only_short)
    page = Paginator(items, ROWS_A_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "stores/stock.html",
        {
            "page": page,
            "wanted": wanted,
            "only_short": only_short,
            "may_change_part": request.user.may(Right.KEEP_PARTS),
        },
    )


@require_GET
@anyone_in_the_shop
def item(request: ShopRequest, pk: int) -> HttpResponse:
    return _show(request, pk)


@require_POST
@anyone_in_the_shop
@sent_once
def receive_item(request: ShopRequest, pk: int) -> HttpResponse:
    return _move(request, pk, "receive", receive)


@require_POST
@anyone_in_the_shop
def count_item(request: ShopRequest, pk: int) -> HttpResponse:
    return _move(request, pk, "count", count)


@require_POST
@anyone_in_the_shop
@sent_once
def write_off_item(request: ShopRequest, pk: int) -> HttpResponse:
    return _move(request, pk, "write_off", write_off)


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def edit(request: ShopRequest, pk: int) -> HttpResponse:
    the_item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    form = ItemForm(request.POST) if request.method == "POST" else ItemForm.of(the_item)

    def save(seen: int) -> StockItem:
        with transaction.atomic():
            return change_item(item=take_version(the_item, seen), by=request.user, **form.cleaned_data)

    done = reverse("stores:item", args=[pk])
    return edit_page(
        request,
        template="stores/edit.html",
        form=form,
        version=the_item.version,
        save=save,
        form_of=ItemForm.of,
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


def _forms(part: Part, **data: QueryDict) -> dict[str, ReceiveForm | CountForm | WriteOffForm]:
    """The forms of what moves a part, by name; `data` is what was sent of one."""
    return {
        name: form(data.get(name), part=part, auto_id=f"{name.replace('_', '-')}-%s")
        for name, form in (("receive", ReceiveForm), ("count", CountForm), ("write_off", WriteOffForm))
    }


def _move(request: ShopRequest, pk: int, name: str, change: Callable[..., Any]) -> HttpResponse:
    the_item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    form = _forms(the_item.part, **{name: request.POST})[name]
    if form.is_valid():
        try:
            moved = change(item=the_item, by=request.user, **form.movement)
        except (ValidationError, NotEnoughInStock) as refused:
            reasons = refused.messages if isinstance(refused, ValidationError) else [str(refused)]
            form.add_error(next(iter(form.fields)), reasons)
        else:
            level = measured(level_of(the_item), the_item.part)
            said = f"Now {level} in the stores." if moved is not None else f"It agrees: {level} in the stores."
            if name == "receive" and the_item.part.bottle_ml is not None:
                bottles = figures(moved.quantity / the_item.part.bottle_ml)
                said = f"{bottles} × {figures(the_item.part.bottle_ml)} ml came in. {said}"
            messages.success(request, said)
            return redirect("stores:item", pk)
    return _show(request, pk, REFUSED, **{f"{name}_form": form})


def _show(request: ShopRequest, pk: int, status: int = 200, **refused: Any) -> HttpResponse:
    the_item = get_object_or_404(stock_of(request.shop), pk=pk)
    (standing,) = stores_standing(request.shop, only_parts={the_item.part_id}).items
    context = {
        "item": the_item,
        "standing": standing,
        "movements": ledger_of(the_item, standing.level, MOVEMENTS_SHOWN),
        "kit_lines": KitLine.objects.filter(part=the_item.part_id).select_related("kit__model"),
        "bottles": bottles_in_words(standing.level, the_item.part.bottle_ml),
        "price_changes": the_item.price_changes.select_related("by").order_by("-pk")[:PRICES_SHOWN],
        "may_change_part": request.user.may(Right.KEEP_PARTS),
        **{f"{name}_form": form for name, form in _forms(the_item.part).items()},
        **refused,
    }
    return render(request, "stores/item.html", context, status=status)
