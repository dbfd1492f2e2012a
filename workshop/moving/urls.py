"""Addresses of moving in and out; included in the Office, so their names begin with office:."""

from django.urls import URLPattern, path

from workshop.moving import views

urlpatterns: list[URLPattern] = [
    path("", views.moving, name="moving"),
    path("out/everything.zip", views.move_out, name="move_out"),
    path("sheets/<key:pk>/", views.sheet, name="sheet"),
    path("sheets/<key:pk>/columns/", views.match, name="match_sheet"),
    path("sheets/<key:pk>/columns/anew/", views.anew, name="match_sheet_anew"),
    path("sheets/<key:pk>/on/", views.one_step, name="go_on_with_sheet"),
    path("sheets/<key:pk>/held/", views.held, name="say_of_sheet_rows"),
    path("sheets/<key:pk>/import/", views.begin, name="begin_sheet"),
    path("sheets/<key:pk>/stop/", views.stop_here, name="stop_sheet"),
    path("sheets/<key:pk>/take-back/", views.take_back, name="take_back_sheet"),
    path("sheets/<key:pk>/throw-away/", views.drop, name="throw_away_sheet"),
    path("in/<slug:kind>/", views.move_in, name="move_in"),
    path("in/<slug:kind>/sample.csv", views.sample, name="move_in_sample"),
]
