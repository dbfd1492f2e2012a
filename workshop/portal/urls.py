"""Addresses of the customer's page, short because people type them. The ones that staff use ask for a login."""

from django.urls import URLPattern, path

from workshop.portal import estimate_views, staff_views, stop_views, views

app_name = "customer"
urlpatterns: list[URLPattern] = [
    path("ticket/<key:number>/link/", staff_views.make, name="make_link"),
    path("ticket/<key:number>/link/<key:pk>/withdraw/", staff_views.withdraw, name="withdraw_link"),
    path("stop/<str:token>/", stop_views.stop, name="stop"),
    path("<str:secret>/", views.page, name="page"),
    path("<str:secret>/report/", views.report, name="report"),
    path("<str:secret>/estimate/", estimate_views.estimate, name="estimate"),
    path("<str:secret>/answer/", estimate_views.answer, name="answer_estimate"),
    path("<str:secret>/photo/<key:pk>/<str:size>/", views.photo, name="photo"),
    path("<str:secret>/hours/", views.say_hours, name="say_hours"),
    path("<str:secret>/rides/", views.send_tracks, name="send_tracks"),
]
