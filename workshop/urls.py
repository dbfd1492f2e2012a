"""Addresses, a file for each area of the shop."""

from django.conf import settings
from django.urls import URLPattern, URLResolver, include, path

from workshop.running.health import health, live, ready
from workshop.running.metrics import metrics_address
from workshop.web.app_manifest import app_manifest
from workshop.web.living_page import living_page

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health, name="health"),
    path("live", live, name="live"),
    path("ready", ready, name="ready"),
    *metrics_address(settings.METRICS_TOKEN),
    path("app.webmanifest", app_manifest, name="app_manifest"),
    path("", include("workshop.sign_in.urls")),
    path("counter/", include("workshop.counter.urls")),
    path("bench/", include("workshop.bench.urls")),
    path("checklists/", include("workshop.checklists.read_urls")),
    path("stores/", include("workshop.stores.urls")),
    path("intervals/", include("workshop.counter.intervals_urls")),
    path("c/", include("workshop.portal.urls")),
    path("charges/", include("workshop.counter.charges_urls")),
    path("documents/", include("workshop.printing.urls")),
    path("office/", include("workshop.office.urls")),
    path("sums/", include("workshop.sums.urls")),
    *living_page(debug=settings.DEBUG),
]

handler400 = "workshop.web.errors.bad_request"
handler403 = "workshop.web.errors.not_allowed"
handler404 = "workshop.web.errors.not_found"
handler500 = "workshop.web.errors.broken"
