"""Addresses for signing in and out."""

from django.urls import URLPattern, path

from workshop.staff import views

urlpatterns: list[URLPattern] = [
    path("", views.home, name="home"),
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("password/", views.change_password, name="change_password"),
]
