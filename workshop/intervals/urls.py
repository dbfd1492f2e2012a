"""Addresses of a unit's hours, rules and services."""

from django.urls import URLPattern, path

from workshop.intervals import views

app_name = "intervals"
urlpatterns: list[URLPattern] = [
    path("unit/<int:pk>/", views.unit, name="unit"),
    path("unit/<int:pk>/weekly/", views.say_weekly, name="weekly"),
    path("unit/<int:pk>/counter/", views.counter_reading, name="counter"),
    path("unit/<int:pk>/tracks/", views.tracks, name="tracks"),
    path("unit/<int:pk>/service/", views.service_elsewhere, name="service_elsewhere"),
    path("unit/<int:pk>/rule/<str:level>/", views.rule, name="rule"),
    path("ticket/<int:number>/services/", views.ticket_services, name="ticket_services"),
]
