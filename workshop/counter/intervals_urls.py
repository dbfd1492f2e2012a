"""Addresses of a unit's hours, rules and services."""

from django.urls import URLPattern, path

from workshop.counter import intervals_views as views

app_name = "intervals"
urlpatterns: list[URLPattern] = [
    path("unit/<key:pk>/", views.unit, name="unit"),
    path("unit/<key:pk>/weekly/", views.say_weekly, name="weekly"),
    path("unit/<key:pk>/counter/", views.counter_reading, name="counter"),
    path("unit/<key:pk>/tracks/", views.tracks, name="tracks"),
    path("unit/<key:pk>/service/", views.service_elsewhere, name="service_elsewhere"),
    path("unit/<key:pk>/rule/<str:level>/", views.rule, name="rule"),
    path("ticket/<key:number>/services/", views.ticket_services, name="ticket_services"),
]
