"""Addresses of a ticket's charges."""

from django.urls import URLPattern, path

from workshop.counter import charges_views as views
from workshop.counter import variant_views

app_name = "charges"
urlpatterns: list[URLPattern] = [
    path("<key:number>/", views.charges, name="ticket"),
    path("<key:number>/service/", views.add_service, name="add_service"),
    path("<key:number>/minutes/", views.add_minutes, name="add_minutes"),
    path("<key:number>/labour/<key:pk>/drop/", views.drop, name="drop_labour"),
    path("<key:number>/price/", views.add_price, name="add_price"),
    path("<key:number>/discount/", views.add_discount, name="add_discount"),
    path("<key:number>/discount/<key:pk>/drop/", views.leave_out_discount, name="drop_discount"),
    path("<key:number>/warranty/", views.under_warranty, name="warranty"),
    path("<key:number>/warranty/drop/", views.out_of_warranty, name="drop_warranty"),
    path("<key:number>/margin/", views.margin, name="margin"),
    path("<key:number>/ways/", variant_views.add_variant, name="offer"),
    path("<key:number>/ways/<key:pk>/work/", variant_views.add_work, name="offer_work"),
    path("<key:number>/ways/<key:pk>/part/", variant_views.add_part, name="offer_part"),
    path("<key:number>/ways/<key:pk>/drop/", variant_views.leave_out_variant, name="drop_variant"),
    path("<key:number>/ways/line/<key:pk>/drop/", variant_views.leave_out_line, name="drop_variant_line"),
    path("<key:number>/answer/", views.answer, name="answer"),
]
