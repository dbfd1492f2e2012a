"""The pictures in the README are of the real thing: this takes them anew when asked.

`python3 manage.py test -m pictures` makes the demo shop, drives it in the browser, and writes `.readme/`.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdf
import pytest
from django.conf import settings
from playwright.sync_api import Page

from tests.demo_ticket import sucked_down_ticket
from workshop.demo.making import make_demo
from workshop.documents.issuing import issue
from workshop.staff.models import User

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
