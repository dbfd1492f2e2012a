"""Addresses of a ticket's charges."""

from django.urls import URLPattern, path

from workshop.counter import charges_views as views

app_name = "charges"
urlpatterns: list[URLPattern] = [
    path("<key:number>/", views.charges, name="ticket"),
    path("<key:number>/service/", views.add_service, name="add_service"),
    path("<key:number>/minutes/", views.add_minutes, name="add_minutes"),
    path("<key:number>/labour/<key:pk>/drop/", views.drop, name="drop_labour"),
    path("<key:number>/answer/", views.answer, name="answer"),
]
