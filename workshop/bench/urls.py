"""Addresses of the Bench."""

from django.urls import URLPattern

app_name = "bench"
urlpatterns: list[URLPattern] = []
