"""Addresses for signing in and out."""

from django.urls import URLPattern, path

from workshop.sign_in import help_views, person_views, second_factor_views, session_views, views

urlpatterns: list[URLPattern] = [
    path("", views.home, name="home"),
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-in/code/", second_factor_views.second_step, name="second_step"),
    path("how-it-works/", help_views.how_it_works, name="how_it_works"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("person/", person_views.change_person, name="change_person"),
    path("person/password/", person_views.give_password, name="give_password"),
    path("person/code/", person_views.own_code, name="own_code"),
    path("person/code/off/", person_views.own_code_off, name="own_code_off"),
    path("password/", views.change_password, name="change_password"),
    path("sessions/end/", session_views.end_own_session, name="end_own_session"),
    path("confirm/", session_views.confirm, name="confirm"),
    path("second-factor/", second_factor_views.second_factor, name="second_factor"),
    path("second-factor/off/", second_factor_views.second_factor_off, name="second_factor_off"),
]
