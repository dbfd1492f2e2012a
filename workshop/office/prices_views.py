"""Prices and tax as the owner sets them, and charges for the books."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.charges.books import charges_csv
from workshop.charges.models import TaxRate
from workshop.charges.prices import service_prices, set_tax_rules
from workshop.charges.tax import rates_to_come, tax_rules_of
from workshop.charges.tax_rates import set_tax_rate, take_back_tax_rate
from workshop.counter.charges_forms import BooksForm, PricesForm, TaxRateForm
from workshop.counter.saving import edit_page, put_beside_fields, seen_version
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.versions import StaleVersion


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def prices(request: ShopRequest) -> HttpResponse:
    shop = request.shop
    rules = tax_rules_of(shop)

    def stored_form() -> PricesForm:
        return PricesForm.of(tax_rules_of(shop), service_prices(shop), shop.currency)

    def save(seen: int) -> object:
        with transaction.atomic():
            note_by(request, Did.TAX_CHANGED)
            return set_tax_rules(shop=shop, seen_version=seen, prices=form.prices, by=request.user, **form.rules)

    form = PricesForm(request.POST, currency=shop.currency) if request.method == "POST" else stored_form()
    return edit_page(
        request,
        template="office/prices.html",
        form=form,
        version=rules.version,
        save=save,
        form_of=lambda _: stored_form(),
        done_url=reverse("office:prices"),
        said="Prices and tax are saved. What was charged or agreed before stays as it was.",
        context={"books_form": _this_month(), **_rates(request)},
    )


@require_GET
@owner_only
def books(request: ShopRequest) -> HttpResponse:
    """The CSV of the days asked for; the form with its reasons where they cannot be read."""
    form = BooksForm(request.GET)
    if not form.is_valid():
        return _page(request, 422, books_form=form)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    content = charges_csv(request.shop, first, last)
    name = f"charges-{first.isoformat()}-to-{last.isoformat()}.csv"
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)


@require_POST
@owner_only
@confirmed
def set_rate(request: ShopRequest) -> HttpResponse:
    """Rates from a day to come."""
    form = TaxRateForm(request.POST, auto_id="rate-%s")
    if form.is_valid():
        try:
            with transaction.atomic():
                note_by(request, Did.TAX_CHANGED)
                seen = seen_version(request)
                set_tax_rate(shop=request.shop, seen_version=seen, by=request.user, **form.cleaned_data)
        except StaleVersion:
            form.add_error(None, "Somebody changed the tax meanwhile. It is shown as it is now.")
            return _page(request, 409, rate_form=form)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "The rate is kept for that day. What is agreed before keeps its tax.")
            return redirect("office:prices")
    return _page(request, 422, rate_form=form)


@require_POST
@owner_only
@confirmed
def take_back_rate(request: ShopRequest, pk: int) -> HttpResponse:
    rate = get_object_or_404(TaxRate.objects.select_related("shop"), shop=request.shop, pk=pk)
    try:
        with transaction.atomic():
            note_by(request, Did.TAX_CHANGED)
            take_back_tax_rate(rate=rate, seen_version=seen_version(request))
    except StaleVersion:
        messages.error(request, "Somebody changed the tax meanwhile. It is shown as it is now.")
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("office:prices")


def _page(request: ShopRequest, status: int, **more: forms.Form) -> HttpResponse:
    """The page with a form that was refused; the others as they are stored."""
    shop = request.shop
    rules = tax_rules_of(shop)
    form = PricesForm.of(rules, service_prices(shop), shop.currency)
    context = {"form": form, "seen_version": rules.version, "books_form": _this_month(), **_rates(request), **more}
    return render(request, "office/prices.html", context, status=status)


def _rates(request: ShopRequest) -> dict[str, object]:
    rules = tax_rules_of(request.shop)
    return {
        "rate_form": TaxRateForm(auto_id="rate-%s"),
        "rates_to_come": rates_to_come(request.shop),
        "tax_version": rules.version,
    }


def _this_month() -> BooksForm:
    today = timezone.localdate()
    return BooksForm(initial={"first": today.replace(day=1), "last": today})
