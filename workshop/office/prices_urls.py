"""Addresses of prices, tax and the books; part of the Office."""

from django.urls import URLPattern, path

from workshop.office import prices_views as views

urlpatterns: list[URLPattern] = [
    path("", views.prices, name="prices"),
    path("tax/", views.set_rate, name="set_tax_rate"),
    path("tax/<key:pk>/take-back/", views.take_back_rate, name="take_back_tax_rate"),
    path("books/", views.books, name="books"),
]
