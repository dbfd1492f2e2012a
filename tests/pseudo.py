"""The pseudo-languages in a test, and what of a page is not in them: text of ours that nobody marked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db import models

_READ_ATTRIBUTES = {"title", "aria-label", "placeholder", "alt", "data-foot", "data-confirm"} | {
    f"data-page-{place}" for place in ("first", "between", "last")
}
_NOT_READ = {"script", "style"}
_A_WORD = re.compile(r"\b[^\W\d_]{2,}\b")  # letters beside digits are a number
_AN_ADDRESS = re.compile(r"\S+@\S+|https?://\S+")
# Units, currencies and names of formats are written so in every language.
SAME_EVERYWHERE = ("psi", "bar", "mm", "ml", "EUR", "kg", "min", "Nm", "PDF", "VAT", "GPX")
# Columns of keys, whose words are ours.
_KEYS = {"loose", "facts", "part", "value", "quantity", "key", "role"}
# What these hold was made of our sentences; everything else that is stored was typed by somebody.
_SENTENCES_OF_OURS = {"document", "message", "contact", "receipt", "finalcharges", "securityline", "ticketevent"}


class _Read(HTMLParser):
    """Collects what is read out or shown: text, and the attributes that are."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _NOT_READ:
            self._inside.append(tag)
        given = dict(attrs)
        self.said += [value for name in _READ_ATTRIBUTES if (value := given.get(name))]
        if tag == "meta" and given.get("name") == "description":
            self.said.append(given.get("content") or "")

    def handle_endtag(self, tag: str) -> None:
        if self._inside and self._inside[-1] == tag:
            self._inside.pop()

    def handle_data(self, data: str) -> None:
        if not self._inside and data.strip():
            self.said.append(data)


def said_in(html: str) -> list[str]:
    """Each text of a page as one line."""
    reader = _Read()
    reader.feed(html)
    return [" ".join(text.split()) for text in reader.said]


def plain_english(said: Iterable[str], typed: Iterable[str]) -> list[str]:
    """The texts in which a word has no accent, besides what people typed; a word has two letters at least."""
    known = sorted({*typed, *SAME_EVERYWHERE}, key=len, reverse=True)
    typed_words = re.compile("|".join(rf"(?<!\w){re.escape(text)}(?!\w)" for text in known), re.IGNORECASE)
    found = []
    for text in said:
        ours = typed_words.sub(" ", _AN_ADDRESS.sub(" ", text))
        if any(word.isascii() for word in _A_WORD.findall(ours)):
            found.append(text)
    return found


def typed_in_the_shop() -> set[str]:
    """Every text in the database that no sentence of ours made, with each of its lines."""
    found: set[str] = set()
    for model in apps.get_models():
        if model._meta.model_name in _SENTENCES_OF_OURS or model._meta.proxy:
            continue
        fields = [
            field for field in model._meta.local_concrete_fields if isinstance(field, _TEXTS) and not field.choices
        ]
        names = [field.attname for field in fields if field.name not in _KEYS]
        for row in model._default_manager.values_list(*names) if names else ():
            for value in row:
                found |= set(_texts(value))
    return found


_TEXTS = (models.CharField, models.TextField, models.JSONField)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        for text in (value, *value.splitlines()):
            if len(text.strip()) > 1:
                yield " ".join(text.split())
    elif isinstance(value, dict):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)


def made_pseudo(folder: Path) -> Path:
    """The folder with both catalogues, made of what is marked now."""
    from workshop.management.catalogue import write_pseudo

    write_pseudo(folder)
    return folder
