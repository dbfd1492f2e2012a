"""Addresses of shortages, suppliers and orders; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import basket_views, delivery_views, order_change_views, order_mail_views, supplier_views
from workshop.stores import purchase_views as views

urlpatterns: list[URLPattern] = [
    path("to-order/", basket_views.to_order, name="to_order"),
    path("to-order/order/", basket_views.order_parts, name="place_order"),
    path("to-order/swap/<key:pk>/", basket_views.swap_superseded, name="swap_superseded"),
    path("<key:pk>/as-suggested/", basket_views.as_suggested, name="as_suggested"),
    path("suppliers/", supplier_views.suppliers, name="suppliers"),
    path("suppliers/new/", supplier_views.new_supplier, name="new_supplier"),
    path("suppliers/<key:pk>/", supplier_views.supplier, name="supplier"),
    path("suppliers/<key:pk>/edit/", supplier_views.edit_supplier, name="edit_supplier"),
    path("suppliers/<key:pk>/archive/", supplier_views.archive, name="archive_supplier"),
    path("<key:pk>/suppliers/", supplier_views.offers, name="offers"),
    path("<key:pk>/suppliers/<key:offer_pk>/", supplier_views.prefer_offer, name="prefer_offer"),
    path("orders/", views.orders, name="orders"),
    path("orders/<key:number>/", views.order, name="order"),
    path("orders/<key:number>/receive/", delivery_views.receive, name="receive_order"),
    path("orders/<key:number>/deliveries/<key:pk>/back/", delivery_views.book_back, name="order_delivery_back"),
    path("orders/<key:number>/give-back/", delivery_views.give_back, name="order_give_back"),
    path("orders/<key:number>/give-back/<key:pk>/", delivery_views.not_given_back, name="order_not_given_back"),
    path("orders/<key:number>/lines/", order_change_views.lines, name="order_lines"),
    path("orders/<key:number>/lines/add/", order_change_views.add, name="order_add"),
    path("orders/<key:number>/sent/", order_change_views.sent, name="order_sent"),
    path("orders/<key:number>/mail/", order_mail_views.mail_order, name="mail_order"),
    path("orders/<key:number>/expected/", views.expect, name="expect_order"),
    path("orders/<key:number>/close/", views.close, name="close_order"),
    path("orders/<key:number>/open/", order_change_views.reopen, name="reopen_order"),
    path("orders/<key:number>/list.pdf", views.order_pdf, name="order_pdf"),
    path("orders/<key:number>/list.csv", views.order_csv, name="order_csv"),
]
