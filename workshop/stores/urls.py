"""Addresses of the Stores."""

from django.urls import URLPattern, URLResolver, include, path

from workshop.stores import views

app_name = "stores"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", views.stock, name="stock"),
    path("add/", views.add, name="add"),
    path("<key:pk>/", views.item, name="item"),
    path("<key:pk>/edit/", views.edit, name="edit"),
    path("<key:pk>/receive/", views.receive_item, name="receive"),
    path("<key:pk>/count/", views.count_item, name="count"),
    path("<key:pk>/write-off/", views.write_off_item, name="write_off"),
    path("<key:pk>/give/", views.give, name="give"),
    path("", include("workshop.stores.part_urls")),
    path("", include("workshop.stores.batch_urls")),
    path("", include("workshop.stores.old_part_urls")),
    path("", include("workshop.stores.price_urls")),
    path("", include("workshop.stores.purchase_urls")),
    path("", include("workshop.stores.torque_urls")),
]
