"""Colours stand out from what they lie on: text 4.5:1 (7:1 at the bench), what says something without words 3:1.

The ratio is computed as WCAG 2.2 defines it ("relative luminance" and "contrast ratio" of its glossary), from the
colours as the sheets and drawings have them.
"""

from __future__ import annotations

import re
from itertools import product
from pathlib import Path

import pytest
from django.conf import settings

BASE = Path(settings.BASE_DIR)
TOKEN = re.compile(r"--([\w-]+):\s*(#[0-9a-f]{3,6});")
SURFACES = ("paper", "sheet", "shade", "field")
TINTS = ("signal-tint", "stop-tint", "fine-tint", "note-tint")
INKS = ("ink", "ink-soft", "signal-deep", "stop", "fine", "note")
# What is known by its edge or stroke alone: the frame of a field and a button, the line under where you are.
EDGES = ("edge", "signal-deep", "stop", "fine", "note")
GROUNDS_OF_PLOTS = ("#fff", "#fbfaf7", "#dfeade")
GRID = {"#cdc8bd"}  # lines that the labelled axis says again


def channel(share: float) -> float:
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Relative luminance of `#rgb` or `#rrggbb`, WCAG 2.2."""
    digits = colour.lstrip("#")
    digits = "".join(2 * digit for digit in digits) if len(digits) == 3 else digits
    red, green, blue = (channel(int(digits[at : at + 2], 16) / 255) for at in (0, 2, 4))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2: from 1 to 21."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def tokens(sheet: str) -> dict[str, str]:
    """The colours that a sheet names; `tokens.css` has those of a page as it is by itself."""
    return dict(TOKEN.findall((BASE / "static/css" / sheet).read_text()))


def themes() -> dict[str, dict[str, str]]:
    """The colours of a page, and of each light that the bench can be set to."""
    plain, found = tokens("tokens.css"), {}
    text = (BASE / "static/css/bench-light.css").read_text()
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*--paper:[^{}]*)\}", text):
        found[selector.strip().splitlines()[-1]] = plain | dict(TOKEN.findall(body))
    return {"by itself": plain} | found


def too_faint(colours: dict[str, str], fronts: tuple[str, ...], grounds: tuple[str, ...], least: float) -> list[str]:
    return [
        f"{front} on {ground}: {contrast(colours[front], colours[ground]):.2f}"
        for front, ground in product(fronts, grounds)
        if contrast(colours[front], colours[ground]) < least
    ]


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000", "#fff", 21.0), ("#fff", "#fff", 1.0), ("#777", "#fff", 4.48), ("#767676", "#fff", 4.54)],
)
def test_the_ratio_is_that_of_the_standard(one: str, other: str, ratio: float) -> None:
    """Black on white is 21; #767676 is the lightest grey that reaches 4.5 on white, #777 just does not."""
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize("theme", themes())
def test_text_reads_on_every_ground(theme: str) -> None:
    assert too_faint(themes()[theme], INKS, SURFACES + TINTS, 4.5) == []


def test_text_of_the_bench_reads_at_arms_length() -> None:
    text = (BASE / "static/css/bench-light.css").read_text()
    bright = tokens("tokens.css") | dict(TOKEN.findall(text.partition("@media")[0]))
    dark = [colours for name, colours in themes().items() if name != "by itself"]
    assert len(dark) == 1
    for colours in (bright, *dark):
        assert too_faint(colours, ("ink", "ink-soft", "stop", "fine", "note"), SURFACES, 7.0) == []


@pytest.mark.parametrize("theme", themes())
def test_what_is_known_by_its_edge_is_seen(theme: str) -> None:
    assert too_faint(themes()[theme], EDGES, SURFACES + TINTS, 3.0) == []


def test_the_signal_colour_is_never_alone() -> None:
    """On paper it is light, so what is pressed has an edge; on the board it stands by itself, and text on it is ink."""
    colours = tokens("tokens.css")
    assert too_faint(colours, ("signal",), ("board", "board-hole"), 3.0) == []
    assert too_faint(colours, ("ink",), ("signal", "signal-pressed"), 4.5) == []
    assert too_faint(colours, ("chalk", "chalk-soft"), ("board", "board-hole"), 4.5) == []
    assert too_faint(colours, ("signal-deep",), ("signal",), 3.0) == []
    buttons = (BASE / "static/css/buttons.css").read_text()
    main = re.search(r"\.button--main \{([^}]*)\}", buttons)
    assert main is not None
    assert "border-color: var(--signal-deep)" in main[1]


@pytest.mark.parametrize("drawing", sorted(path.name for path in (BASE / "templates/plots").glob("*.svg")))
def test_every_stroke_of_a_plot_is_seen_on_what_it_crosses(drawing: str) -> None:
    """A band is known by its outline, so its fill may be faint; a line crosses bands, so it is held against them."""
    text = (BASE / "templates/plots" / drawing).read_text()
    strokes = set(re.findall(r'stroke="(#[0-9a-f]{3,6})"', text)) - GRID
    halo = {"#fff", "#fbfaf7"}  # around words and marks, so that what lies below does not run into them
    faint = [
        f"{stroke} on {ground}: {contrast(stroke, ground):.2f}"
        for stroke, ground in product(sorted(strokes - halo), GROUNDS_OF_PLOTS)
        if contrast(stroke, ground) < 3
    ]
    assert faint == []


@pytest.mark.parametrize("drawing", sorted(path.name for path in (BASE / "templates/plots").glob("*.svg")))
def test_what_is_filled_faintly_has_an_outline(drawing: str) -> None:
    text = (BASE / "templates/plots" / drawing).read_text()
    bare = [
        tag
        for tag in re.findall(r"<(?:polygon|rect|circle)\b(?:\{%.*?%\}|[^>])*>", text, re.DOTALL)
        for fill in re.findall(r'fill="(#[0-9a-f]{3,6})"', tag)
        if contrast(fill, "#fff") < 3 and "stroke=" not in tag and "<pattern" not in text[: text.index(tag)][-200:]
    ]
    assert bare == []
