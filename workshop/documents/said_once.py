"""A sentence that several texts of a paper end with stands after the last of them. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

_BETWEEN = re.compile(r"(?<=[.!?])\s+(?=\w)")


def endings_once(texts: Sequence[str]) -> list[str]:
    """The texts in their order; what a text says after its first sentence and a later one says too is left out."""
    said_later: set[str] = set()
    kept: list[str] = []
    for text in reversed(texts):
        first, *more = _BETWEEN.split(text.strip())
        kept.append(" ".join([first, *(sentence for sentence in more if sentence not in said_later)]))
        said_later.update(more)
    return kept[::-1]
