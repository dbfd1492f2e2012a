"""Addresses of old parts; part of the Stores."""

from django.urls import URLPattern, path

from workshop.stores import old_part_views as views

urlpatterns: list[URLPattern] = [
    path("old-parts/", views.old_parts, name="old_parts"),
    path("old-parts/ticket/<key:number>/", views.of_ticket, name="ticket_old_parts"),
    path("old-parts/ticket/<key:number>/keep/", views.keep, name="keep_old_part"),
    path("old-parts/<key:pk>/", views.change, name="change_old_part"),
]
