"""The page for newcomers: one's own part open, every button it names there, every word with what it means."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from tests.factories import UserFactory
from workshop.web.glossary import glossary, meaning_of

TEMPLATES = settings.BASE_DIR / "templates"
_NAMED = re.compile(r"<b>([^<]+)</b>")
# Named on the page and no button: what the counter makes of somebody's fork.
_NO_BUTTONS = {"ticket"}


def _texts() -> str:
    """Whatever people read on other pages: templates, and labels that stand in Python."""
    ours = {*_own_files()}
    files: list[Path] = [path for path in TEMPLATES.rglob("*.html") if path not in ours]
    files += [path for room in ("workshop", "diagnosis") for path in (settings.BASE_DIR / room).rglob("*.py")]
    return "\n".join(path.read_text() for path in files if "migrations" not in path.parts)


def _own_files() -> list[Path]:
    return [*TEMPLATES.glob("staff/_how_*.html"), TEMPLATES / "staff" / "how_it_works.html"]


def _not_there(named: set[str], texts: str) -> set[str]:
    return {name for name in named if not re.search(r'[}>"“ ]' + re.escape(name) + "(?![a-z])", texts)}


def test_every_button_that_the_page_names_is_there() -> None:
    named = {name for path in _own_files() for name in _NAMED.findall(path.read_text())} - _NO_BUTTONS
    assert len(named) > 10
    assert _not_there(named, _texts()) == set()


def test_a_button_that_was_renamed_is_found() -> None:
    assert _not_there({"Book in", "Take it in"}, _texts()) == {"Take it in"}


@pytest.mark.django_db
@pytest.mark.parametrize("role", ["counter", "mechanic", "owner"])
def test_ones_own_part_is_open(client: Client, role: str) -> None:
    client.force_login(UserFactory(roles=role))
    page = client.get(reverse("how_it_works")).content.decode()
    opened = re.findall(r'<details [^>]*id="how-(\w+)" open', page)
    assert opened == [role]
    assert meaning_of("Rest depth") in page


@pytest.mark.django_db
def test_an_owners_links_are_for_owners(client: Client) -> None:
    client.force_login(UserFactory(roles="counter"))
    assert reverse("office:reminders") not in client.get(reverse("how_it_works")).content.decode()


def test_every_word_of_the_glossary_means_something() -> None:
    words = [one for words in glossary().values() for one in words]
    assert len(words) > 90
    assert [one.word for one in words if not one.means.endswith(".")] == []
    assert len({one.word for one in words}) == len(words)
    with pytest.raises(KeyError):
        meaning_of("no word of ours")
