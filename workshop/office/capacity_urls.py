"""Addresses of the bench's hours; part of the Office."""

from django.urls import URLPattern, path

from workshop.office import capacity_views as views

urlpatterns: list[URLPattern] = [
    path("", views.hours, name="hours"),
    path("closed/", views.close, name="close_day"),
    path("closed/<key:pk>/reopen/", views.reopen, name="reopen_day"),
]
