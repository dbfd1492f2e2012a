"""Addresses of shortages and orders; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import purchase_views as views

urlpatterns: list[URLPattern] = [
    path("to-order/", views.to_order, name="to_order"),
    path("to-order/order/", views.order_parts, name="place_order"),
    path("orders/", views.orders, name="orders"),
    path("orders/<key:number>/", views.order, name="order"),
    path("orders/<key:number>/receive/", views.receive, name="receive_order"),
    path("orders/<key:number>/expected/", views.expect, name="expect_order"),
    path("orders/<key:number>/close/", views.close, name="close_order"),
    path("orders/<key:number>/list.pdf", views.order_pdf, name="order_pdf"),
    path("orders/<key:number>/list.csv", views.order_csv, name="order_csv"),
]
