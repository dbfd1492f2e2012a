"""Places in the order in which one walks along them. No Django."""

from __future__ import annotations

import re

_FIGURES = re.compile(r"(\d+)")


def natural_key(place: str) -> tuple[tuple[int, int, str], ...]:
    """A key to sort by: figures as numbers, so that A2 stands before A10; case does not matter, "" comes last."""
    if not place.strip():
        return ((2, 0, ""),)
    parts = (part for part in _FIGURES.split(place.strip().casefold()) if part)
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts)
