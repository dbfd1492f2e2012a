"""Addresses of the Office."""

from django.urls import URLPattern, URLResolver, include, path

from workshop.office import views
from workshop.office.system_views import system

app_name = "office"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", views.overview, name="overview"),
    path("figures/", include("workshop.office.figures.urls")),
    path("specs/", include("workshop.office.specs_urls")),
    path("checklists/", include("workshop.checklists.urls")),
    path("reminders/", include("workshop.office.reminder_urls")),
    path("privacy/", include("workshop.privacy.urls")),
    path("shop/", views.shop_settings, name="shop_settings"),
    path("hours/", include("workshop.office.capacity_urls")),
    path("prices/", include("workshop.office.prices_urls")),
    path("system/", system, name="system"),
    path("staff/", views.staff, name="staff"),
    path("staff/<key:pk>/password/", views.staff_password, name="staff_password"),
    path("staff/<key:pk>/active/", views.staff_active, name="staff_active"),
    path("staff/<key:pk>/second-factor-off/", views.staff_second_factor_off, name="staff_second_factor_off"),
]
