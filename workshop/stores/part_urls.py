"""Addresses of parts, kits and the stock-take; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import kit_views, part_file_views, part_views, stock_take_views

urlpatterns: list[URLPattern] = [
    path("parts/new/", part_views.new_part, name="new_part"),
    path("parts/<key:pk>/", part_views.edit_part, name="edit_part"),
    path("parts/<key:pk>/remove/", part_views.remove_part, name="remove_part"),
    path("files/", part_file_views.files, name="files"),
    path("files/movements.csv", part_file_views.export_movements, name="export_movements"),
    path("files/orders.csv", part_file_views.export_orders, name="export_orders"),
    path("files/kits.csv", part_file_views.export_kits, name="export_kits"),
    path("parts/export/", part_file_views.export, name="export_parts"),
    path("parts/import/", part_file_views.import_file, name="import_parts"),
    path("parts/import/confirm/", part_file_views.confirm, name="confirm_parts"),
    path("kits/", kit_views.kits, name="kits"),
    path("kits/new/", kit_views.new_kit, name="new_kit"),
    path("kits/<key:pk>/", kit_views.kit, name="kit"),
    path("kits/<key:pk>/add/", kit_views.add_line, name="add_kit_line"),
    path("kits/<key:pk>/lines/<key:line_pk>/", kit_views.change_line, name="change_kit_line"),
    path("stock-take/", stock_take_views.stock_take, name="stock_take"),
]
