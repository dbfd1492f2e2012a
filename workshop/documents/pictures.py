"""Drawings as pictures: as an `img` a drawing can have words in the PDF, as SVG in the page it cannot."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext

from workshop.plots.fork_drawing import drawing_in_words, place_of


def as_picture(svg: str) -> str:
    """An address that holds the drawing itself."""
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"


def cause_drawing(cause: str, kind: str) -> dict[str, str]:
    """Where a cause sits in a fork, drawn and in words; empty where there is no drawing of it."""
    place = place_of(cause, kind)
    if place is None:
        return {"drawing": "", "drawing_in_words": "", "place": ""}
    svg = render_to_string("plots/fork.svg", {"place": place})
    return {"drawing": as_picture(svg), "drawing_in_words": drawing_in_words(place), "place": gettext(place.words)}


def is_drawing_beside(searches: Sequence[Mapping[str, Any]], photos: Sequence[Mapping[str, str]]) -> bool:
    """Whether the words of what was found leave room beside them: for one or two drawings and no photo."""
    drawn = [item for search in searches for item in search["found"] if item.get("drawing") and not item["told_in"]]
    return not photos and 0 < len(drawn) <= 2
