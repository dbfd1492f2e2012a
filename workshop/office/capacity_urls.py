"""Addresses of the bench's hours, the mechanics' calendars and the days closed; part of the Office."""

from django.urls import URLPattern, path

from workshop.office import calendar_views
from workshop.office import capacity_views as views

urlpatterns: list[URLPattern] = [
    path("", views.hours, name="hours"),
    path("closed/", views.close, name="close_day"),
    path("open/", calendar_views.open_on, name="open_day"),
    path("holidays/", calendar_views.public_holidays, name="public_holidays"),
    path("calendar/<key:pk>/", calendar_views.calendar, name="calendar"),
    path("calendar/<key:pk>/away/", calendar_views.away, name="add_absence"),
    path("calendar/<key:pk>/usual/", calendar_views.usual, name="usual_hours"),
    path("absences/<key:pk>/back/", calendar_views.back, name="end_absence"),
]
