"""Every marked sentence gathered as a catalogue, and the languages that nobody speaks, made of it.

They show what is wrong before anybody translates: plain English is a sentence that is not marked, brackets in the
middle of one say that it is glued, a bracket that is missing says that it was cut.
Babel reads the calls in Python; templates become such calls by Django's own `templatize`, so that nothing here reads
the syntax of a template, and no tool of the system is needed.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import django
from babel.messages.catalog import Catalog
from babel.messages.extract import DEFAULT_KEYWORDS, extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import write_po
from django.utils.translation import to_locale
from django.utils.translation.template import templatize

from workshop.pseudo_names import ACCENTED, FROM_RIGHT

ROOT = Path(__file__).resolve().parents[2]
_ROOMS = ("specs", "diagnosis", "workshop")
_LONGER = 1.4
# What a call in Python or a tag in a template is named, with the places of its sentences; "c" marks the context.
_KEYWORDS = {
    **DEFAULT_KEYWORDS,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext_lazy": (1, 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext_lazy": ((1, "c"), 2, 3),
}
_MARKS = re.compile(r"gettext|translate|\b_\(")
_ACCENTS = str.maketrans(
    "aAbBcCdDeEfFgGhHiIjJkKlLnNoOrRsStTuUwWyYzZ",
    "áÁþÞčČďĎéÉſŦğĞħĦîÎĵĴķĶļĻņŅöÖŕŔšŠťŤûÛŵŴýÝžŽ",
)
_KEPT = re.compile(r"(%\(\w+\)[sd]|%[sd%]|\{\{|\}\}|\{\w*\}|<[^>]*>|&\w+;|\n)")
_FILLER = ("and", "so", "on", "and", "on")
_TURNED, _TURNED_BACK = "\N{RIGHT-TO-LEFT OVERRIDE}", "\N{POP DIRECTIONAL FORMATTING}"


def gather_sentences() -> Catalog:
    """All marked sentences of templates and Python, and the names of days and months, which Django words."""
    catalog = Catalog(domain="django", charset="utf-8")
    for path in _sources():
        source = path.read_text(encoding="utf-8")
        if not _MARKS.search(source):
            continue
        if path.suffix != ".py":
            # What is between the calls is no Python: inside a bracket nobody minds how its lines are set in.
            source = f"({templatize(source, origin=str(path))}\n)"
        for line, message, _, context in extract("python", io.BytesIO(source.encode()), _KEYWORDS):
            name = path.relative_to(ROOT).as_posix() if path.is_relative_to(ROOT) else path.name
            catalog.add(message, locations=[(name, line)], context=context)
    return catalog


def _sources() -> Iterator[Path]:
    for path in sorted((ROOT / "templates").rglob("*")):
        if path.suffix in {".html", ".svg", ".txt"}:
            yield path
    for room in _ROOMS:
        yield from (path for path in sorted((ROOT / room).rglob("*.py")) if "migrations" not in path.parts)
    yield Path(django.__file__).parent / "utils" / "dates.py"


def accented(sentence: str) -> str:
    """The sentence with accents, in brackets and two fifths longer; what is filled in, and tags, stay."""
    pieces = [piece if _KEPT.fullmatch(piece) else piece.translate(_ACCENTS) for piece in _KEPT.split(sentence)]
    return f"[{''.join(pieces)}{_filler(len(sentence))}]"


def from_right(sentence: str) -> str:
    """The same, with each piece of text set from right to left."""
    pieces = [
        piece if not piece or _KEPT.fullmatch(piece) else f"{_TURNED}{piece.translate(_ACCENTS)}{_TURNED_BACK}"
        for piece in _KEPT.split(sentence)
    ]
    return f"[{''.join(pieces)}{_TURNED}{_filler(len(sentence))}{_TURNED_BACK}]"


def _filler(length: int) -> str:
    """Words that make a sentence longer, each with a blank in front of it, so that lines break as they would."""
    words, wanted = "", length * (_LONGER - 1)
    for number in range(length):
        if len(words) >= wanted:
            break
        words += f" {_FILLER[number % len(_FILLER)]}".translate(_ACCENTS)
    return words


HOW: Mapping[str, Callable[[str], str]] = {ACCENTED: accented, FROM_RIGHT: from_right}


def write_pseudo(folder: Path) -> Catalog:
    """Make both pseudo-languages anew below `folder`, as Django reads catalogues; returns what they were made of."""
    sentences = gather_sentences()
    for code, said in HOW.items():
        made = Catalog(locale="en", domain="django", charset="utf-8")
        for message in sentences:
            if message.id:
                words = said(message.id) if isinstance(message.id, str) else tuple(said(one) for one in message.id)
                made.add(message.id, words, locations=message.locations, context=message.context)
        place = folder / to_locale(code) / "LC_MESSAGES"
        place.mkdir(parents=True, exist_ok=True)
        with (place / "django.po").open("wb") as text, (place / "django.mo").open("wb") as compiled:
            write_po(text, made)
            write_mo(compiled, made)
    return sentences


def write_template(file: Path) -> Catalog:
    """What a translator begins with: every sentence, with where it stands, and no translation."""
    sentences = gather_sentences()
    with file.open("wb") as text:
        write_po(text, sentences)
    return sentences
