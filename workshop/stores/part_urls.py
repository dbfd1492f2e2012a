"""Addresses of parts, kits, stock-takes and reorder points; part of the Stores."""

from django.urls import URLPattern, path

from workshop.moving.views import move_in
from workshop.stores import (
    kit_views,
    part_file_views,
    part_number_views,
    part_views,
    reorder_views,
    stock_take_views,
)

urlpatterns: list[URLPattern] = [
    path("parts/new/", part_views.new_part, name="new_part"),
    path("parts/<key:pk>/", part_views.edit_part, name="edit_part"),
    path("parts/<key:pk>/remove/", part_views.remove_part, name="remove_part"),
    path("parts/<key:pk>/numbers/", part_number_views.part_numbers, name="part_numbers"),
    path("parts/<key:pk>/numbers/remove/", part_number_views.remove_number, name="remove_part_number"),
    path("files/", part_file_views.files, name="files"),
    path("files/movements.csv", part_file_views.export_movements, name="export_movements"),
    path("files/orders.csv", part_file_views.export_orders, name="export_orders"),
    path("files/kits.csv", part_file_views.export_kits, name="export_kits"),
    path("parts/export/", part_file_views.export, name="export_parts"),
    path("parts/import/", move_in, {"kind": "parts"}, name="import_parts"),
    path("kits/", kit_views.kits, name="kits"),
    path("kits/new/", kit_views.new_kit, name="new_kit"),
    path("kits/<key:pk>/", kit_views.kit, name="kit"),
    path("kits/<key:pk>/add/", kit_views.add_line, name="add_kit_line"),
    path("kits/<key:pk>/lines/<key:line_pk>/", kit_views.change_line, name="change_kit_line"),
    path("reorder-points/", reorder_views.reorder_points, name="reorder_points"),
    path("<key:pk>/take-reorder-point/", reorder_views.take, name="take_reorder_point"),
    path("stock-takes/", stock_take_views.stock_takes, name="stock_takes"),
    path("stock-takes/<key:number>/", stock_take_views.stock_take, name="stock_take"),
    path("stock-takes/<key:number>/outcome/", stock_take_views.outcome, name="stock_take_outcome"),
    path("stock-takes/<key:number>/book/", stock_take_views.book, name="book_stock_take"),
    path("stock-takes/<key:number>/give-up/", stock_take_views.give_up, name="give_up_stock_take"),
]
