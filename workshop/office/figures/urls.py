"""Addresses of the figures; part of the Office."""

from django.urls import URLPattern, path

from workshop.office.figures import views

urlpatterns: list[URLPattern] = [
    path("", views.all_figures, name="figures"),
    path("<slug:key>/", views.figure, name="figure"),
    path("<slug:key>/small/", views.small, name="figure_small"),
    path("<slug:key>/tickets/", views.tickets, name="figure_tickets"),
    path("<slug:key>/table.csv", views.download, name="figure_csv"),
]
