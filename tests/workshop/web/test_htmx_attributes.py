"""Nothing of htmx is inherited: each element that asks says itself where its answer goes and how it is put there."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from tests.factories import CustomerFactory, UserFactory

TEMPLATES = Path(settings.BASE_DIR) / "templates"
# A tag of a template may hold tags of Django's, which may hold ">".
TAG = re.compile(r"<[a-z][a-z0-9-]*(?:\{%.*?%\}|\{\{.*?\}\}|[^>{]|\{(?![%{]))*>", re.DOTALL)
ASKS = re.compile(r"\bhx-(?:get|post|put|patch|delete)=")
TAKEN_BY_HTMX = re.compile(r"\bhx-[a-z-]+=")
ALONE = {"hx-swap-oob=", "hx-preserve="}


def tags_with_htmx() -> list[tuple[str, str]]:
    return [
        (str(path.relative_to(TEMPLATES)), tag)
        for path in sorted(TEMPLATES.rglob("*.html"))
        for tag in TAG.findall(path.read_text())
        if "hx-" in tag
    ]


def test_the_tags_are_found() -> None:
    asking = [tag for _, tag in tags_with_htmx() if ASKS.search(tag)]
    written = sum(len(ASKS.findall(path.read_text())) for path in TEMPLATES.rglob("*.html"))
    assert len(asking) == written > 20


@pytest.mark.parametrize(("where", "tag"), tags_with_htmx())
def test_who_asks_says_where_the_answer_goes_and_who_does_not_ask_says_nothing(where: str, tag: str) -> None:
    if ASKS.search(tag):
        assert "hx-swap=" in tag, f"{where}: without hx-swap\n{tag}"
        in_place_of_itself = 'hx-trigger="load"' in tag and 'hx-swap="outerHTML"' in tag
        assert "hx-target=" in tag or in_place_of_itself, f"{where}: without hx-target\n{tag}"
    else:
        meant_for_others = set(TAKEN_BY_HTMX.findall(tag)) - ALONE
        assert not meant_for_others, f"{where}: nothing inherits {meant_for_others}\n{tag}"


@pytest.mark.django_db
def test_pages_tell_htmx_to_inherit_nothing_and_neither_they_nor_fragments_are_kept(client: Client) -> None:
    clerk = UserFactory()
    CustomerFactory(shop=clerk.shop, name="Petra Quennell")
    client.force_login(clerk)
    page = client.get("/counter/search/?q=quen")
    config = re.search(r"name=\"htmx-config\" content='([^']+)'", page.content.decode())
    assert config is not None
    assert json.loads(config[1])["disableInheritance"] is True
    assert page.headers["Cache-Control"] == "no-store"
    fragment = client.get("/counter/search/?q=quen", headers={"HX-Request": "true"})
    assert "Petra Quennell" in fragment.content.decode()
    assert fragment.headers["Cache-Control"] == "no-store"
