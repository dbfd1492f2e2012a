"""Addresses of a ticket's charges."""

from django.urls import URLPattern, path

from workshop.charges import views

app_name = "charges"
urlpatterns: list[URLPattern] = [
    path("<int:number>/", views.charges, name="ticket"),
    path("<int:number>/service/", views.add_service, name="add_service"),
    path("<int:number>/minutes/", views.add_minutes, name="add_minutes"),
    path("<int:number>/labour/<int:pk>/drop/", views.drop, name="drop_labour"),
    path("<int:number>/answer/", views.answer, name="answer"),
]
