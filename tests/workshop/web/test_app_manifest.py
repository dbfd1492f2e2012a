"""The shop as an app: its manifest, its icons, and the links to them on every page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from PIL import Image

from tests.factories import UserFactory
from workshop.web.app_manifest import BOARD, ICONS, PAPER

pytestmark = pytest.mark.django_db
STATIC = Path(settings.BASE_DIR) / "static"


def test_the_manifest_is_there_before_anybody_signs_in_and_names_nobody(client: Client) -> None:
    response = client.get(reverse("app_manifest"))
    assert response.status_code == 200
    assert response.headers["Content-Type"] == "application/manifest+json"
    assert "Set-Cookie" not in response.headers
    manifest = response.json()
    assert manifest["display_override"][0] == manifest["display"] == "fullscreen"
    assert manifest["start_url"].startswith(manifest["scope"])  # else a device does not take it
    assert {"name", "short_name", "id"} <= set(manifest)
    wanted = {(192, "any"), (512, "any"), (512, "maskable")}  # what devices ask for before they install
    assert wanted <= {(int(icon["sizes"].split("x")[0]), icon["purpose"]) for icon in manifest["icons"]}


def test_each_icon_has_the_size_it_says(client: Client) -> None:
    for icon, (name, side, _) in zip(client.get(reverse("app_manifest")).json()["icons"], ICONS, strict=True):
        with Image.open(STATIC / name) as picture:
            assert picture.size == (side, side), name
            assert picture.format == "PNG"
            assert icon["sizes"] == f"{side}x{side}"


def test_a_maskable_icon_fills_its_square_and_keeps_its_drawing_in_the_middle() -> None:
    """The safe zone is a circle of two fifths of the side around the middle (W3C, Web Application Manifest)."""
    for name, side, purpose in ICONS:
        if purpose != "maskable":
            continue
        with Image.open(STATIC / name) as picture:
            plain = picture.convert("RGB")
            ground = plain.getpixel((0, 0))
            assert ground == tuple(bytes.fromhex(BOARD[1:]))
            drawn = [(x, y) for x in range(side) for y in range(side) if plain.getpixel((x, y)) != ground]
            assert len(drawn) > side * side / 20
            middle = (side - 1) / 2
            assert max(((x - middle) ** 2 + (y - middle) ** 2) ** 0.5 for x, y in drawn) < 0.4 * side


def test_every_page_leads_to_it_and_each_role_starts_where_its_day_starts(client: Client) -> None:
    html = client.get(reverse("sign_in")).content.decode()
    assert f'<link rel="manifest" href="{reverse("app_manifest")}">' in html
    assert re.search(r'<link rel="apple-touch-icon" href="[^"]*app-touch-180', html)
    start = client.get(reverse("app_manifest")).json()["start_url"]
    for role, first in (("owner", "office:overview"), ("mechanic", "bench:board"), ("counter", "counter:today")):
        client.force_login(UserFactory(role=role))
        assert client.get(start).headers["Location"] == reverse(first)


def test_its_colours_are_those_of_the_pages() -> None:
    tokens = (STATIC / "css" / "tokens.css").read_text()
    assert f"--board: {BOARD};" in tokens
    assert f"--paper: {PAPER};" in tokens
    assert f'name="theme-color" content="{BOARD}"' in (Path(settings.BASE_DIR) / "templates" / "base.html").read_text()
