"""Prices and tax as the owner sets them, and charges for the books."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods

from workshop.charges.books import charges_csv
from workshop.charges.prices import service_prices, set_tax_rules
from workshop.charges.ticket_charges import tax_rules_of
from workshop.counter.charges_forms import BooksForm, PricesForm
from workshop.counter.saving import edit_page
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def prices(request: ShopRequest) -> HttpResponse:
    shop = request.shop
    rules = tax_rules_of(shop)

    def stored_form() -> PricesForm:
        return PricesForm.of(tax_rules_of(shop), service_prices(shop), shop.currency)

    form = PricesForm(request.POST, currency=shop.currency) if request.method == "POST" else stored_form()
    return edit_page(
        request,
        template="office/prices.html",
        form=form,
        version=rules.version,
        save=lambda seen: set_tax_rules(shop=shop, seen_version=seen, prices=form.prices, **form.rules),
        form_of=lambda _: stored_form(),
        done_url=reverse("office:prices"),
        said="Prices and tax are saved. What was charged before stays as it was.",
        context={"books_form": _this_month()},
    )


@require_GET
@owner_only
def books(request: ShopRequest) -> HttpResponse:
    """The CSV of the days asked for; the form with its reasons where they cannot be read."""
    form = BooksForm(request.GET)
    if not form.is_valid():
        shop = request.shop
        rules = tax_rules_of(shop)
        prices_form = PricesForm.of(rules, service_prices(shop), shop.currency)
        context = {"form": prices_form, "seen_version": rules.version, "books_form": form}
        return render(request, "office/prices.html", context, status=422)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    content = charges_csv(request.shop, first, last)
    name = f"charges-{first.isoformat()}-to-{last.isoformat()}.csv"
    headers = {"Content-Disposition": content_disposition_header(True, name)}
    return HttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)


def _this_month() -> BooksForm:
    today = timezone.localdate()
    return BooksForm(initial={"first": today.replace(day=1), "last": today})
