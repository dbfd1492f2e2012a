"""A stock-take on the tablet: begun, counted along the shelves, looked through, booked or given up."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from specs.numbers import NumberRefused, read_number
from workshop.counter.saving import seen_version
from workshop.stock.stock_take_models import StockTake
from workshop.stock.stock_taking import (
    BeingCounted,
    CannotBook,
    CountedItem,
    MovedMeanwhile,
    StockTakeOver,
    book_stock_take,
    give_up_stock_take,
    keep_counts,
    start_stock_take,
)
from workshop.stock.typed_amounts import read_amounts
from workshop.stores.stock_take_forms import EndForm, StartForm
from workshop.stores.stock_take_page import outcome_of_take, sheet_of, takes_of
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion

REFUSED, CONFLICT = 422, 409
NEVER = Decimal(-1)  # no level: what was not shown has to be looked at first


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def stock_takes(request: ShopRequest) -> HttpResponse:
    """Those that go on and the last that ended; a press begins another."""
    form = StartForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            take = start_stock_take(shop=request.shop, by=request.user, **form.cleaned_data)
        except BeingCounted as other:
            form.add_error("shelf", str(other))
        except ValidationError as refused:
            form.add_error(None, refused.messages)
        else:
            return redirect("stores:stock_take", take.number)
    status = REFUSED if form.is_bound else 200
    return render(request, "stores/stock_takes.html", {"form": form, **takes_of(request.shop)}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def stock_take(request: ShopRequest, number: int) -> HttpResponse:
    """The sheet: what is typed is kept, and changes nothing in the stores before it is booked."""
    take = _take(request, number)
    if request.method != "POST":
        return _sheet(request, take) if take.is_open else redirect("stores:stock_take_outcome", number)
    typed = read_amounts(request.POST, "counted", zero_too=True)
    seen = read_amounts(request.POST, "seen", zero_too=True).amounts
    if typed.refused:
        return _sheet(request, take, REFUSED, typed=request.POST, refused_rows=typed.refused)
    if not typed.amounts:
        nothing = "Nothing was counted. Enter what lies there of at least one part."
        return _sheet(request, take, REFUSED, typed=request.POST, refusal=nothing)
    counts = [CountedItem(pk, counted, seen.get(pk, NEVER)) for pk, counted in typed.amounts.items()]
    try:
        kept = keep_counts(take=take, counts=counts, by=request.user)
    except MovedMeanwhile as moved:
        again = _without(request.POST, moved.item_pks)
        return _sheet(request, take, CONFLICT, refusal=str(moved), typed=again)
    except StockTakeOver as over:
        messages.error(request, str(over))
        return redirect("stores:stock_take_outcome", number)
    messages.success(request, f"{kept} counted and kept. Nothing is booked yet.")
    return redirect(f"{request.path}?{request.GET.urlencode()}" if request.GET else request.path)


@require_GET
@anyone_in_the_shop
def outcome(request: ShopRequest, number: int) -> HttpResponse:
    """What differs and what it is worth, before it is booked and after."""
    return _outcome(request, _take(request, number))


@require_POST
@anyone_in_the_shop
def book(request: ShopRequest, number: int) -> HttpResponse:
    def end(take: StockTake, reason: str) -> str:
        differed = book_stock_take(
            take=take,
            seen_version=seen_version(request),
            reason=reason,
            sure=_sure(request.POST),
            by=request.user,
        )
        return f"Booked: {differed} differed and are corrected." if differed else "Booked: all that was counted agrees."

    return _end(request, number, end)


@require_POST
@anyone_in_the_shop
def give_up(request: ShopRequest, number: int) -> HttpResponse:
    def end(take: StockTake, reason: str) -> str:
        give_up_stock_take(take=take, seen_version=seen_version(request), reason=reason, by=request.user)
        return "Given up. Nothing of it was booked; what was counted is kept to look at."

    return _end(request, number, end)


def _end(request: ShopRequest, number: int, end: Callable[[StockTake, str], str]) -> HttpResponse:
    take, form = _take(request, number), EndForm(request.POST)
    if not form.is_valid():
        return _outcome(request, take, REFUSED, form=form)
    try:
        said = end(take, form.cleaned_data["reason"])
    except CannotBook as refused:
        take.refresh_from_db()
        form.add_error(None if refused.doubted else "reason", str(refused))
        return _outcome(request, take, REFUSED, form=form, doubted=refused.doubted)
    except ValidationError as refused:
        take.refresh_from_db()
        form.add_error(None, refused.messages)
        return _outcome(request, take, REFUSED, form=form)
    except StaleVersion:
        form.add_error(None, "Somebody ended this stock-take, or tried to, while you looked at it. It is shown anew.")
        return _outcome(request, take, CONFLICT, form=form)
    except StockTakeOver as over:
        messages.error(request, str(over))
    else:
        messages.success(request, said)
    return redirect("stores:stock_take_outcome", number)


def _sheet(
    request: ShopRequest,
    take: StockTake,
    status: int = 200,
    *,
    refusal: str = "",
    typed: QueryDict | None = None,
    refused_rows: Mapping[int, str] | None = None,
) -> HttpResponse:
    context = sheet_of(take, request.GET, person=request.user.pk, typed=typed, refused=refused_rows or {})
    context |= {"refused": bool(refusal or refused_rows), "refusal": refusal}
    return render(request, "stores/stock_take.html", context, status=status)


def _outcome(
    request: ShopRequest,
    take: StockTake,
    status: int = 200,
    *,
    form: EndForm | None = None,
    doubted: Iterable[int] = (),
) -> HttpResponse:
    ticked = request.POST if form is not None else None
    context = outcome_of_take(take, ticked=ticked) | {"form": form or EndForm(), "doubted": set(doubted)}
    return render(request, "stores/stock_take_outcome.html", context, status=status)


def _take(request: ShopRequest, number: int) -> StockTake:
    takes = StockTake.objects.select_related("started_by", "ended_by")
    return get_object_or_404(takes, shop=request.shop, number=number)


def _sure(data: QueryDict) -> dict[int, Decimal]:
    """The ticks, each with the count that it is about."""
    found = {}
    for name, value in data.items():
        key = key_from(name.removeprefix("sure-")) if name.startswith("sure-") else None
        if key is not None:
            try:
                found[key] = read_number(str(value))
            except NumberRefused:
                continue
    return found


def _without(typed: QueryDict, item_pks: Iterable[int]) -> QueryDict:
    """What was typed, without the counts that have to be taken again."""
    kept = typed.copy()
    for pk in item_pks:
        kept.pop(f"counted-{pk}", None)
    return kept
