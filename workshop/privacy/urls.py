"""Addresses of Office, Privacy; included in the Office, so their names begin with office:."""

from django.urls import URLPattern, path

from workshop.privacy import merge_views
from workshop.privacy import views as privacy_views

urlpatterns: list[URLPattern] = [
    path("", privacy_views.privacy, name="privacy"),
    path("register/", privacy_views.register, name="privacy_register"),
    path("<key:pk>/", privacy_views.person, name="privacy_person"),
    path("<key:pk>/export/", privacy_views.export, name="privacy_export"),
    path("<key:pk>/erase/", privacy_views.erase, name="privacy_erase"),
    path("<key:pk>/hold/", privacy_views.hold_person, name="privacy_hold"),
    path("<key:pk>/merge/", merge_views.merge, name="merge_customer"),
]
