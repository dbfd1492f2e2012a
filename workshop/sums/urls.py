"""Addresses of the quick sums."""

from django.urls import URLPattern, URLResolver, path

from workshop.sums import views

app_name = "sums"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", views.index, name="index"),
    path("<slug:key>/", views.sum_page, name="sum"),
]
