"""Addresses for reading the checklists through and signing them: for the bench, not only for the owner."""

from django.urls import URLPattern, path

from workshop.checklists import read_views as views

app_name = "checklists"
urlpatterns: list[URLPattern] = [
    path("", views.to_read, name="to_read"),
    path("<slug:key>/", views.read, name="read"),
    path("<slug:key>/sign/", views.sign_it, name="sign"),
    path("<slug:key>/take-back/<key:pk>/", views.take_back, name="take_back"),
]
