"""An order on its way: sent, confirmed or changed line by line, opened again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import put_beside_fields, seen_version
from workshop.stock.models import StockItem
from workshop.stock.order_changes import LineRefused, LineTerms, add_line, change_lines, mark_not_sent, mark_sent
from workshop.stock.order_standing import came_of, price_of_pack
from workshop.stock.ordering import OrderClosed, open_order_again
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stock.receiving import DoubtfulPrice
from workshop.stock.typed_amounts import read_amounts
from workshop.stores.forms import _amount
from workshop.stores.order_page import order_of
from workshop.stores.typed_prices import meant_rows, read_prices
from workshop.web.number_words import figures, plain_price
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion

REFUSED, CONFLICT = 422, 409
STALE = "Somebody changed this order meanwhile. It is shown as it is now; yours is not saved yet."


class AddForm(forms.Form):
    """Another part in the order, by its number."""

    number = forms.CharField(max_length=60, label="Our number, or the supplier’s")
    quantity = _amount("How many")


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
@sent_once
def lines(request: ShopRequest, number: int) -> HttpResponse:
    """What the supplier confirmed, or the shop changed, line by line; a quantity of 0 cancels what did not come."""
    the_order = order_of(request, number)
    if request.method != "POST":
        return _show(request, the_order)
    terms, refused = _typed(request, the_order)
    if refused:
        return _show(request, the_order, REFUSED, typed=request.POST, refused_fields=refused)
    try:
        changed = change_lines(
            order=the_order,
            seen_version=seen_version(request),
            terms=terms,
            confirmed=request.POST.get("by_whom") == "supplier",
            reason=request.POST.get("reason", ""),
            by=request.user,
            meant=meant_rows(request.POST),
        )
    except StaleVersion:
        return _show(request, order_of(request, number), CONFLICT, typed=request.POST, refusal=STALE)
    except LineRefused as why:
        return _show(request, order_of(request, number), REFUSED, typed=request.POST, errors=why.reasons)
    except DoubtfulPrice as odd:
        return _show(request, order_of(request, number), REFUSED, typed=request.POST, doubtful=odd.reasons)
    except OrderClosed as why:
        return _show(request, order_of(request, number), REFUSED, typed=request.POST, refusal=str(why))
    messages.success(request, f"{changed} line{'s' if changed != 1 else ''} changed. Promises use it.")
    return redirect("stores:order", number)


def _typed(request: ShopRequest, order: PurchaseOrder) -> tuple[dict[int, LineTerms], dict[str, str]]:
    """What was typed of each line by its key, and why some of it could not be read by the name of its field."""
    amounts = read_amounts(request.POST, "ordered", zero_too=True)
    prices = read_prices(request.POST, "price")
    refused = {f"price-{pk}": reason for pk, reason in prices.refused.items()}
    refused |= {f"ordered-{pk}": reason for pk, reason in amounts.refused.items()}
    terms = {}
    for line in order.lines.all():
        if f"ordered-{line.pk}" not in request.POST or f"ordered-{line.pk}" in refused:
            continue
        text = request.POST.get(f"expected-{line.pk}", "").strip()
        try:
            day = dt.date.fromisoformat(text) if text else None
        except ValueError:
            refused[f"expected-{line.pk}"] = "Enter a day as 2026-12-24."
            continue
        if line.pk not in amounts.amounts:
            refused[f"ordered-{line.pk}"] = "Enter how many, or 0 to cancel it."
            continue
        terms[line.pk] = LineTerms(amounts.amounts[line.pk], prices.amounts.get(line.pk), day)
    return terms, refused


@require_POST
@anyone_in_the_shop
@sent_once
def add(request: ShopRequest, number: int) -> HttpResponse:
    """Another part in the order."""
    the_order, form = order_of(request, number), AddForm(request.POST)
    if form.is_valid():
        typed = form.cleaned_data["number"].strip()
        items = StockItem.objects.filter(shop=request.shop).select_related("part")
        item = items.filter(part__number__iexact=typed).first() or items.filter(
            offers__number__iexact=typed, offers__supplier__name=the_order.supplier
        ).first()  # fmt: skip
        try:
            if item is None:
                raise ValidationError({"number": f"No part kept here has the number “{typed[:30]}”."})
            quantity = form.cleaned_data["quantity"]
            add_line(
                order=the_order, seen_version=seen_version(request), item=item, quantity=quantity, by=request.user
            )  # fmt: skip
        except StaleVersion:
            return _show(request, order_of(request, number), CONFLICT, add_form=form, refusal=STALE)
        except OrderClosed as why:
            form.add_error(None, str(why))
        except ValidationError as why:
            put_beside_fields(form, _at_number(why))
        else:
            messages.success(request, f"{item.part.description} is in the order.")
            return redirect("stores:order_lines", number)
    return _show(request, order_of(request, number), REFUSED, add_form=form)


def _at_number(why: ValidationError) -> ValidationError:
    """What is said of the item stands beside the number that named it."""
    if hasattr(why, "error_dict") and "item" in why.error_dict:
        return ValidationError({"number": why.error_dict["item"]})
    return why


def _show(
    request: ShopRequest,
    order: PurchaseOrder,
    status: int = 200,
    *,
    typed: QueryDict | None = None,
    errors: Mapping[int, str] = MappingProxyType({}),
    refused_fields: Mapping[str, str] = MappingProxyType({}),
    doubtful: Mapping[int, str] = MappingProxyType({}),
    refusal: str = "",
    add_form: AddForm | None = None,
) -> HttpResponse:
    came = came_of(order)
    rows = []
    for line in order.lines.select_related("item__part"):
        shown = _as_stored(line) if typed is None else {
            name: typed.get(f"{name}-{line.pk}", "") for name in ("ordered", "price", "expected")
        }  # fmt: skip
        rows.append(
            {
                "line": line,
                "name": f"ordered-{line.pk}",
                "label": line.item.part.description,
                "came": came[line.pk],
                "shown": shown,
                "error": errors.get(line.pk) or doubtful.get(line.pk) or refused_fields.get(f"ordered-{line.pk}", ""),
                "price_error": refused_fields.get(f"price-{line.pk}", ""),
                "day_error": refused_fields.get(f"expected-{line.pk}", ""),
                "doubtful": line.pk in doubtful,
            }
        )
    context: dict[str, Any] = {
        "order": order,
        "rows": rows,
        "refused": bool(refusal or errors or refused_fields or doubtful),
        "refusal": refusal,
        "typed": typed or {},
        "add_form": add_form or AddForm(),
        "currency": order.currency or order.shop.currency,
    }
    return render(request, "stores/order_lines.html", context, status=status)


def _as_stored(line: OrderLine) -> dict[str, str]:
    return {
        "ordered": figures(line.ordered),
        "price": plain_price(price_of_pack(line)),
        "expected": line.expected_on.isoformat() if line.expected_on else "",
    }


@require_POST
@anyone_in_the_shop
def sent(request: ShopRequest, number: int) -> HttpResponse:
    """It went to the supplier by some other way than our mail, or with `not=1` it did not."""
    order = order_of(request, number)
    seen = seen_version(request)
    if request.POST.get("not") == "1":
        return _do(request, number, lambda: mark_not_sent(order=order, seen_version=seen, by=request.user), "Noted.")
    how = "by hand"
    return _do(
        request,
        number,
        lambda: mark_sent(order=order, seen_version=seen, how=how, by=request.user),
        "Noted as sent. Days to deliver are counted from today.",
    )


@require_POST
@anyone_in_the_shop
def reopen(request: ShopRequest, number: int) -> HttpResponse:
    """The rest comes after all."""
    order = order_of(request, number)
    seen = seen_version(request)
    said = f"Order {number} is open again."
    return _do(request, number, lambda: open_order_again(order=order, seen_version=seen, by=request.user), said)


def _do(request: ShopRequest, number: int, act: Callable[[], object], said: str) -> HttpResponse:
    try:
        act()
    except StaleVersion:
        messages.error(request, "Somebody changed this order meanwhile. Look at it again first.")
    except (ValidationError, OrderClosed) as why:
        messages.error(request, " ".join(getattr(why, "messages", [str(why)])))
    else:
        messages.success(request, said)
    return redirect("stores:order", number)
