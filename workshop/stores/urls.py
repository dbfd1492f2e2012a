"""Addresses of the Stores."""

from django.urls import URLPattern

app_name = "stores"
urlpatterns: list[URLPattern] = []
