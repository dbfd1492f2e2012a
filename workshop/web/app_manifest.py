"""The shop as an app on a device: its manifest (W3C Web Application Manifest) and icons."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, JsonResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_GET

# Name, side in pixels, and for whom: "maskable" is cut to a shape of the device's own.
ICONS = (
    ("img/app-192.png", 192, "any"),
    ("img/app-512.png", 512, "any"),
    ("img/app-maskable-192.png", 192, "maskable"),
    ("img/app-maskable-512.png", 512, "maskable"),
)
BOARD, PAPER = "#2b3033", "#e6e3dc"  # as in tokens.css


@require_GET
@login_not_required
def app_manifest(request: HttpRequest) -> JsonResponse:
    """What a device asks before anybody signs in, so it names no shop. It starts where the role's day starts."""
    return JsonResponse(
        {
            "id": reverse("home"),
            "name": "Suspension Workshop",
            "short_name": "Workshop",
            "start_url": reverse("home"),
            "scope": reverse("home"),
            "display": "fullscreen",
            "display_override": ["fullscreen", "standalone"],
            "theme_color": BOARD,
            "background_color": PAPER,
            "icons": [
                {"src": static(name), "sizes": f"{side}x{side}", "type": "image/png", "purpose": purpose}
                for name, side, purpose in ICONS
            ],
        },
        content_type="application/manifest+json",
        headers={"Cache-Control": "no-cache"},
    )
