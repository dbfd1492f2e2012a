"""Addresses of new prices and of what the stores are worth; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import price_views as views

urlpatterns: list[URLPattern] = [
    path("prices/", views.prices, name="prices"),
    path("prices/change/", views.change, name="change_prices"),
    path("prices/<key:pk>/", views.update, name="price_update"),
    path("prices/<key:pk>/undo/", views.undo, name="undo_prices"),
    path("value/", views.value, name="value"),
]
