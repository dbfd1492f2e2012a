"""Addresses of prices, tax and the books; part of the Office."""

from django.urls import URLPattern, path

from workshop.office import prices_views as views

urlpatterns: list[URLPattern] = [
    path("", views.prices, name="prices"),
    path("books/", views.books, name="books"),
]
