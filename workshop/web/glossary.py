"""The shop's words and what each means, from templates/GLOSSARY.md: on the page for newcomers, and behind a “?”."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from django.conf import settings

GLOSSARY = settings.BASE_DIR / "templates" / "GLOSSARY.md"
_HEAD = "Word"


@dataclass(frozen=True)
class GlossaryWord:
    """A word, and what it means in a sentence."""

    word: str
    means: str


@cache
def glossary() -> dict[str, list[GlossaryWord]]:
    """Heading to its words, in the order of the file."""
    found: dict[str, list[GlossaryWord]] = {}
    heading = ""
    for line in GLOSSARY.read_text().splitlines():
        if line.startswith("## "):
            heading = line.removeprefix("## ")
        elif line.startswith("| ") and not line.startswith(f"| {_HEAD} |"):
            word, means, *_ = (cell.strip() for cell in line.strip("|").split("|"))
            found.setdefault(heading, []).append(GlossaryWord(word, means))
    return found


def meaning_of(word: str) -> str:
    """What a word of the glossary means. Raises KeyError for one that is not there."""
    known = {one.word: one.means for words in glossary().values() for one in words}
    return known[word]
