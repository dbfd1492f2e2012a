"""Drawings as pictures: as an `img` a drawing can have words in the PDF, as SVG in the page it cannot."""

from __future__ import annotations

from base64 import b64encode

from django.template.loader import render_to_string

from workshop.plots.fork_drawing import in_words, place_of


def as_picture(svg: str) -> str:
    """An address that holds the drawing itself."""
    return f"data:image/svg+xml;base64,{b64encode(svg.encode()).decode()}"


def drawing_of(cause: str, kind: str) -> dict[str, str]:
    """Where a cause sits in a fork, drawn and in words; empty where there is no drawing of it."""
    place = place_of(cause, kind)
    if place is None:
        return {"drawing": "", "drawing_in_words": "", "place": ""}
    svg = render_to_string("plots/fork.svg", {"place": place})
    return {"drawing": as_picture(svg), "drawing_in_words": in_words(place), "place": place.words}
