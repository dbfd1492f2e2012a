"""The pictures in the README are of the real thing: this takes them anew when asked.

`python3 manage.py test -m pictures` makes the demo shop, drives it in the browser, and writes `.readme/`.
"""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdf
import pytest
from django.conf import settings
from PIL import Image, ImageChops, ImageStat
from playwright.sync_api import Browser, Page

from tests.browser.icons import draw_icon
from tests.demo_ticket import sucked_down_ticket
from workshop.demo.making import make_demo
from workshop.documents.issuing import issue
from workshop.staff.models import User
from workshop.staff.opening import open_shop
from workshop.web.app_manifest import ICONS

FOLDER = Path(settings.BASE_DIR) / ".readme"


@pytest.mark.pictures
@pytest.mark.django_db(transaction=True)
def test_pictures_are_taken(live_server: Any, desktop: Page, tablet: Page, sign_in: Callable[..., None]) -> None:
    make_demo()
    FOLDER.mkdir(exist_ok=True)
    ticket = sucked_down_ticket()
    run = ticket.ticket_runs.get().run_id
    for name, username, page, address in (
        ("counter-today", "counter", desktop, "/counter/"),
        ("bench-step", "mechanic", tablet, f"/bench/{ticket.number}/run/{run}/free-port-by-hand/"),
        ("office", "owner", desktop, "/office/"),
    ):
        sign_in(page, User.objects.get(username=username))
        page.goto(live_server.url + address)
        page.wait_for_load_state("networkidle")
        page.screenshot(path=FOLDER / f"{name}.png")
    mechanic = User.objects.get(username="mechanic")
    address = f"http://127.0.0.1:8000/bench/{ticket.number}/"
    order = issue(ticket=ticket, kind="work_order", by=mechanic, ticket_address=address)
    for name, number in (("1", 1), ("spring", _page_that_says("What the spring says, in full", order.pdf.path))):
        picture = FOLDER / f"work-order-{name}"
        page_only = ["-f", str(number), "-l", str(number), "-singlefile"]
        subprocess.run(["pdftoppm", "-r", "60", "-png", *page_only, order.pdf.path, picture], check=True)


@pytest.mark.pictures
@pytest.mark.django_db(transaction=True)
def test_the_first_page_of_an_own_shop_is_taken(live_server: Any, desktop: Page, sign_in: Callable[..., None]) -> None:
    user, _ = open_shop(name="Aldermoor Suspension", owner="Ada", time_zone="Europe/Dublin")
    user.must_change_password = False
    user.save()
    sign_in(desktop, user)
    desktop.goto(live_server.url + "/")
    desktop.wait_for_load_state("networkidle")
    desktop.screenshot(path=FOLDER / "own-shop.png")


def _page_that_says(words: str, path: str) -> int:
    """The one page of a PDF with these words: a longer order moves it, and the README's caption must stay true."""
    pages = pypdf.PdfReader(path).pages
    (number,) = [number for number, page in enumerate(pages, start=1) if words in page.extract_text()]
    return number


def test_every_picture_of_the_readme_is_there() -> None:
    readme = (Path(settings.BASE_DIR) / "README.md").read_text()
    named = re.findall(r"\]\((\.readme/[\w.-]+)\)", readme)

    assert named
    assert [name for name in named if not (Path(settings.BASE_DIR) / name).is_file()] == []


@pytest.mark.pictures
def test_icons_are_drawn_from_the_one_drawing(chromium: Browser) -> None:
    for name, side, purpose in (*ICONS, ("img/app-touch-180.png", 180, "touch")):
        drawn = draw_icon(chromium, side, rounded=purpose == "any")
        (Path(settings.BASE_DIR) / "static" / name).write_bytes(drawn)


def test_the_icons_are_of_the_drawing_there_is(chromium: Browser) -> None:
    """As the browser draws it here: another release may smooth an edge otherwise."""
    for name, side, purpose in ICONS:
        kept = Image.open(Path(settings.BASE_DIR) / "static" / name).convert("RGBA")
        drawn = Image.open(io.BytesIO(draw_icon(chromium, side, rounded=purpose == "any"))).convert("RGBA")
        apart = ImageStat.Stat(ImageChops.difference(kept, drawn)).mean
        assert max(apart) < 1, name
