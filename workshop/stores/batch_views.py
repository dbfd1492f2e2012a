"""Batches: those that are there, and the page of each with what it went into."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db.models import F
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import put_beside_fields, seen_version
from workshop.stock.amounts import measured
from workshop.stock.batch_models import Batch, BatchMovement
from workshop.stock.batches import correct_batch, count_batch, level_in, open_bottle, put_into_batch, write_off_of
from workshop.stock.models import StockItem
from workshop.stock.moving import NotEnoughInStock
from workshop.stores.batch_forms import BatchForm, CountBatchForm, OpenForm, PutIntoForm, SpilledForm
from workshop.stores.views import show_item
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion

ROWS_A_PAGE = 50
REFUSED, CONFLICT = 422, 409


@require_GET
@anyone_in_the_shop
def batches(request: ShopRequest) -> HttpResponse:
    """All of which something is there, the first to expire first."""
    there = Batch.objects.filter(item__shop=request.shop, kept_level__level__gt=0).select_related("item__part")
    there = there.annotate(level=F("kept_level__level")).order_by(F("use_by").asc(nulls_last=True), "pk")
    page = Paginator(there, ROWS_A_PAGE).get_page(request.GET.get("page"))
    today = timezone.localdate()
    rows = [(batch, batch.is_over(today)) for batch in page]
    return render(request, "stores/batches.html", {"page": page, "rows": rows})


@require_GET
@anyone_in_the_shop
def batch(request: ShopRequest, pk: int) -> HttpResponse:
    return _page(request, _batch(request, pk))


@require_POST
@anyone_in_the_shop
def open_one(request: ShopRequest, pk: int) -> HttpResponse:
    the_batch = _batch(request, pk)
    form = OpenForm(the_batch, request.POST, auto_id="open-%s")
    return _change(
        request, the_batch, "open_form", form, "It is open.",
        lambda: open_bottle(
            batch=the_batch, seen_version=seen_version(request), by=request.user, **form.cleaned_data
        ),
    )  # fmt: skip


@require_POST
@anyone_in_the_shop
def count_one(request: ShopRequest, pk: int) -> HttpResponse:
    the_batch = _batch(request, pk)
    form = CountBatchForm(the_batch, request.POST, auto_id="count-%s")
    return _change(
        request, the_batch, "count_form", form, "Counted.",
        lambda: count_batch(batch=the_batch, by=request.user, **form.cleaned_data) or the_batch,
    )  # fmt: skip


@require_POST
@anyone_in_the_shop
@sent_once
def spilled(request: ShopRequest, pk: int) -> HttpResponse:
    """Spilled, broken or out of date: it is written off."""
    the_batch = _batch(request, pk)
    form = SpilledForm(the_batch, request.POST, auto_id="spilled-%s")
    return _change(
        request, the_batch, "spilled_form", form, "Written off.",
        lambda: write_off_of(item=the_batch.item, batch=the_batch, by=request.user, **form.cleaned_data),
    )  # fmt: skip


@require_POST
@anyone_in_the_shop
def correct(request: ShopRequest, pk: int) -> HttpResponse:
    """Its number or one of its days was written down wrongly, or it was not opened at all."""
    the_batch = _batch(request, pk)
    form = BatchForm(the_batch, request.POST, auto_id="correct-%s")
    return _change(
        request, the_batch, "correct_form", form, "Saved.",
        lambda: correct_batch(
            batch=the_batch, seen_version=seen_version(request), by=request.user, **form.cleaned_data
        ),
    )  # fmt: skip


@require_POST
@anyone_in_the_shop
@sent_once
def put_into(request: ShopRequest, pk: int) -> HttpResponse:
    """What stands in the stores without a batch is of one."""
    item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    form = PutIntoForm(request.POST, auto_id="put-into-%s")
    if form.is_valid():
        try:
            made = put_into_batch(item=item, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"{measured(form.cleaned_data['quantity'], item.part)} is of {made} now.")
            return redirect("stores:item", pk)
    return show_item(request, pk, REFUSED, put_into_form=form)


def _batch(request: ShopRequest, pk: int) -> Batch:
    found = Batch.objects.select_related("item__part", "item__shop", "bottle_of", "by")
    return get_object_or_404(found, item__shop=request.shop, pk=pk)


def _change(
    request: ShopRequest, the_batch: Batch, name: str, form: forms.Form, said: str, change: Callable[[], object]
) -> HttpResponse:
    if form.is_valid():
        try:
            done = change()
        except StaleVersion:
            conflict = "Somebody changed this batch meanwhile. It is shown as it is now; nothing of yours is saved."
            return _page(request, _batch(request, the_batch.pk), CONFLICT, conflict=conflict, **{name: form})
        except ValidationError as refused:
            put_beside_fields(form, refused)
        except NotEnoughInStock as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, said)
            return redirect("stores:batch", done.pk if isinstance(done, Batch) else the_batch.pk)
    return _page(request, _batch(request, the_batch.pk), REFUSED, **{name: form})


def _page(request: ShopRequest, the_batch: Batch, status: int = 200, **refused: Any) -> HttpResponse:
    today, level = timezone.localdate(), level_in(the_batch)
    moved = BatchMovement.objects.filter(batch=the_batch).order_by("-pk")
    moved = moved.select_related("by", "movement__part_line__ticket__customer", "movement__order_line__order")
    context = {
        "batch": the_batch,
        "level": level,
        "is_over": the_batch.is_over(today),
        "page": Paginator(moved, ROWS_A_PAGE).get_page(request.GET.get("page")),
        "bottles": the_batch.bottles.annotate(level=F("kept_level__level")).order_by("pk"),
        "open_form": OpenForm.of(the_batch, level, today),
        "count_form": CountBatchForm(the_batch, auto_id="count-%s"),
        "spilled_form": SpilledForm(the_batch, auto_id="spilled-%s"),
        "correct_form": BatchForm.of(the_batch),
        **refused,
    }
    return render(request, "stores/batch.html", context, status=status)
