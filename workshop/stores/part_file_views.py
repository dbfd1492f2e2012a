"""What of the stores goes out as a file; what comes in is in part_sheet_views."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from workshop.stock.exporting import kits_csv, movements_csv, orders_csv
from workshop.stock.part_files import export_parts
from workshop.stock.price_updates import let_prices_come_due
from workshop.web.large_csv import csv_to_take_away
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_password


@require_GET
@anyone_in_the_shop
def files(request: ShopRequest) -> HttpResponse:
    return render(request, "stores/files.html")


@require_GET
@anyone_in_the_shop
@with_password
def export(request: ShopRequest) -> HttpResponse:
    let_prices_come_due(request.shop.pk)
    return csv_to_take_away(export_parts(request.shop), "parts-and-stock.csv")


@require_GET
@anyone_in_the_shop
@with_password
def export_movements(request: ShopRequest) -> HttpResponse:
    return csv_to_take_away(movements_csv(request.shop), "movements.csv")


@require_GET
@anyone_in_the_shop
@with_password
def export_orders(request: ShopRequest) -> HttpResponse:
    return csv_to_take_away(orders_csv(request.shop), "orders.csv")


@require_GET
@anyone_in_the_shop
@with_password
def export_kits(request: ShopRequest) -> HttpResponse:
    return csv_to_take_away(kits_csv(), "kits.csv")
