"""Addresses of the Office."""

from django.urls import URLPattern, URLResolver, include, path

from workshop.office import backup_views, device_views, mail_views, set_up_views, staff_views, views
from workshop.office.receipt_views import receipts
from workshop.office.security_views import security_log
from workshop.office.system_views import system
from workshop.office.tablet_views import tablets

app_name = "office"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", views.overview, name="overview"),
    path("figures/", include("workshop.office.figures.urls")),
    path("specs/", include("workshop.office.specs_urls")),
    path("checklists/", include("workshop.checklists.urls")),
    path("reminders/", include("workshop.office.reminder_urls")),
    path("privacy/", include("workshop.privacy.urls")),
    path("moving/", include("workshop.moving.urls")),
    path("shop/", views.shop_settings, name="shop_settings"),
    path("mail/", mail_views.mail, name="mail"),
    path("mail/arrived/", mail_views.arrived, name="mail_arrived"),
    path("backups/", backup_views.backups, name="backups"),
    path("set-up/", set_up_views.set_up, name="set_up"),
    path("set-up/later/", set_up_views.later, name="set_up_later"),
    path("set-up/leave/", set_up_views.leave, name="set_up_leave"),
    path("hours/", include("workshop.office.capacity_urls")),
    path("prices/", include("workshop.office.prices_urls")),
    path("receipts/", receipts, name="receipts"),
    path("system/", system, name="system"),
    path("system/tablets/", tablets, name="tablets"),
    path("staff/", staff_views.staff, name="staff"),
    path("staff/devices/", device_views.devices, name="devices"),
    path("staff/devices/<key:pk>/end/", device_views.device_end, name="device_end"),
    path("staff/<key:pk>/", staff_views.staff_member, name="staff_member"),
    path("staff/<key:pk>/password/", staff_views.staff_password, name="staff_password"),
    path("staff/<key:pk>/sessions/end/", staff_views.staff_sessions_end, name="staff_sessions_end"),
    path("security/", security_log, name="security_log"),
    path("staff/<key:pk>/prices/", staff_views.staff_prices, name="staff_prices"),
    path("staff/<key:pk>/active/", staff_views.staff_active, name="staff_active"),
    path("staff/<key:pk>/second-factor-off/", staff_views.staff_second_factor_off, name="staff_second_factor_off"),
]
