"""Addresses for signing in and out."""

from django.urls import URLPattern, path

from workshop.staff import views

urlpatterns: list[URLPattern] = [
    path("", views.home, name="home"),
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", views.SignOut.as_view(), name="sign_out"),
    path("password/", views.ChangePassword.as_view(), name="change_password"),
]
