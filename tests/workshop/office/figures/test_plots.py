"""The drawings' numbers: axes, columns, bars and the survival curve. No database, and one template test each."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from django.conf import settings
from django.template.loader import render_to_string
from hypothesis import given
from hypothesis import strategies as st

from workshop.plots.axis import axis_to
from workshop.plots.bars import BarValue, bars
from workshop.plots.columns import Columns, Fill, Series, columns
from workshop.plots.glance import glance
from workshop.plots.survival import SurvivalStep, survival_curve


def drawn(plot: object) -> ET.Element:
    """The SVG as a browser reads it; a drawing with a style attribute would be refused by the policy."""
    text = render_to_string(plot.template, {"plot": plot})  # type: ignore[attr-defined]
    assert "style" not in text
    return ET.fromstring(text)  # noqa: S314  what we drew ourselves


def two_months(*, stacked: bool) -> Columns:
    series = [Series("kept", [3.0, None], Fill.LIGHT), Series("late", [1.0, 2.0], Fill.HATCHED)]
    plot = columns(
        key="k", places=["May", "Jun"], series=series, x_label="month", y_label="n", summary="Two", stacked=stacked
    )
    assert plot is not None
    return plot


@given(st.floats(1e-3, 1e6))
def test_an_axis_holds_its_value_and_ends_at_a_mark(value: float) -> None:
    axis = axis_to(value, zero=100.0, far=0.0)
    assert axis.most >= value * (1 - 1e-9)
    marks = axis.marks()
    assert 2 <= len(marks) <= 7
    assert marks[0].at == 100.0
    assert marks[-1].at == pytest.approx(0.0, abs=0.1)


def test_an_axis_of_counts_has_whole_numbers() -> None:
    assert [mark.words for mark in axis_to(2, zero=0, far=10, whole=True).marks()] == ["0", "1", "2"]


def test_stacked_columns_stand_on_each_other() -> None:
    plot = two_months(stacked=True)
    kept, late, june = plot.blocks
    assert late.y + late.height == pytest.approx(kept.y)
    assert late.x == kept.x
    assert june.y + june.height == plot.bottom


def test_side_by_side_columns_do_not_overlap_and_nothing_stands_for_nothing() -> None:
    blocks = two_months(stacked=False).blocks
    assert len(blocks) == 3
    assert blocks[0].x + blocks[0].width <= blocks[1].x + 0.1


def test_fills_differ_without_colour() -> None:
    fills = {rect.get("fill") for rect in drawn(two_months(stacked=True)).iter("{http://www.w3.org/2000/svg}rect")}
    assert {"url(#k-hatched)", "#dde7ec"} <= fills


def test_each_axis_has_its_name_within_the_drawing() -> None:
    plot = two_months(stacked=True)
    texts = {text.text: text for text in drawn(plot).iter("{http://www.w3.org/2000/svg}text")}
    assert {"month", "n"} <= texts.keys()
    below = float(texts["month"].get("y", "")) + float(texts["month"].get("dy", ""))
    numbers = float(texts["Jun"].get("y", "")) + float(texts["Jun"].get("dy", ""))
    assert numbers + 14 < below < plot.height - 4


# WCAG 2.2, 1.4.11: what is needed to understand a drawing stands out by 3:1 from what is beside it.
GROUND = "#fbfaf7"
CURVES = ("survival", "spring_curve", "spring_small", "measured_curve", "bars")


def contrast(one: str, other: str) -> float:
    """By the relative luminance of WCAG 2.2."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("name", CURVES)
def test_a_pale_area_has_an_edge_that_is_seen(name: str) -> None:
    text = (Path(settings.BASE_DIR) / "templates" / "plots" / f"{name}.svg").read_text()
    shapes = re.findall(r"<(?:rect|polygon|circle)\b[^>]*>", text)
    filled = [shape for shape in shapes if re.search(r'fill="#[0-9a-f]{6}"', shape)]
    assert filled
    for shape in filled:
        colours = [colour for _, colour in re.findall(r'(fill|stroke)="(#[0-9a-f]{6})"', shape)]
        assert max(contrast(colour, GROUND) for colour in colours) >= 3, shape


def test_nothing_to_draw_draws_nothing() -> None:
    empty = Series("kept", [None, 0.0], Fill.SOLID)
    assert columns(key="k", places=["a", "b"], series=[empty], x_label="", y_label="", summary="") is None
    assert bars(key="k", rows=[], x_label="", summary="") is None


def test_a_value_too_many_is_refused() -> None:
    with pytest.raises(ValueError, match="values for"):
        columns(key="k", places=["a"], series=[Series("x", [1.0, 2.0], Fill.SOLID)], x_label="", y_label="", summary="")


def test_bars_carry_their_figure_past_the_mark() -> None:
    plot = bars(key="b", rows=[BarValue("Lowers off", 10.0, "10", 20.0)], x_label="minutes", summary="One")
    assert plot is not None
    (bar,) = plot.bars
    assert bar.mark_x == plot.right
    assert bar.figure_x > plot.right
    assert "Lowers off" in {text.text for text in drawn(plot).iter("{http://www.w3.org/2000/svg}text")}


def test_words_from_people_cannot_break_out_of_a_drawing() -> None:
    plot = bars(key="b", rows=[BarValue('<script>"&', 1.0, "1")], x_label="", summary='"><script>')
    tree = drawn(plot)
    assert tree.get("aria-label") == '"><script>'
    assert not list(tree.iter("{http://www.w3.org/2000/svg}script"))


def test_the_curve_falls_in_steps_and_crosses_stand_on_it() -> None:
    plot = survival_curve(
        key="wipers",
        steps=[SurvivalStep(50.0, 0.75, 0.4, 0.9), SurvivalStep(100.0, 0.5, 0.2, 0.8)],
        still_good_hours=[60.0],
        fit=[(0.0, 1.0), (140.0, 0.3)],
        until_hours=140.0,
        summary="Wipers",
    )
    points: list[tuple[float, ...]] = [tuple(map(float, point.split(","))) for point in plot.steps.split()]
    assert [y for _, y in points] == sorted(y for _, y in points)  # down the page, never up
    assert list(points[0]) == [plot.left, plot.top]
    (cross,) = plot.crosses
    assert cross[1] == points[2][1]
    assert drawn(plot).get("aria-label") == "Wipers"


def test_a_drawing_made_small_keeps_its_shapes_its_words_and_the_ends_of_its_axes() -> None:
    large = two_months(stacked=True)
    small = glance(large)
    svg = drawn(small)
    assert svg.get("aria-label") == "Two"
    assert len(small.blocks) == len(large.blocks)
    heights = [block.height / large.blocks[place].height for place, block in enumerate(small.blocks)]
    assert heights == pytest.approx([heights[0]] * len(heights), rel=0.02)
    assert [tick.words for tick in small.x_ticks] == ["May", "Jun"]
    assert [(entry.words, entry.fill) for entry in small.keys] == [("kept", Fill.LIGHT), ("late", Fill.HATCHED)]
    assert (small.y_ticks[0].words, small.y_ticks[-1].words) == (large.y_ticks[0].words, large.y_ticks[-1].words)
    assert all(small.top <= block.y <= block.y + block.height <= small.bottom + 0.2 for block in small.blocks)


def test_bars_made_small_say_how_many_are_left_out_and_stay_within_their_card() -> None:
    rows = [BarValue(f"A step with many words, number {n}", 10.0 - n, f"{10 - n} min") for n in range(7)]
    large = bars(key="b", rows=rows, x_label="Minutes", summary="Seven steps")
    assert large is not None
    small = glance(large)
    assert [block.figure for block in small.blocks] == ["10 min", "9 min", "8 min", "7 min"]
    assert small.more == "and 3 more"
    assert small.label == "Minutes"
    assert all(len(block.words) <= 22 for block in small.blocks)
    assert max(block.end for block in small.blocks) <= small.right - 50
    drawn(small)


def test_a_curve_made_small_begins_where_all_are_good_and_ends_at_its_axis() -> None:
    steps = [SurvivalStep(10.0, 0.5, 0.3, 0.7), SurvivalStep(40.0, 0.25, 0.1, 0.5)]
    large = survival_curve(key="s", steps=steps, still_good_hours=[], fit=[], until_hours=50.0, summary="Wipers")
    small = glance(large)
    points = [[float(number) for number in point.split(",")] for point in small.line.split()]
    assert points[0] == pytest.approx([small.left, small.top])
    assert points[-1][0] <= small.right
    assert points[-1][1] == pytest.approx(small.top + 0.75 * (small.bottom - small.top), abs=0.5)
    assert drawn(small).get("aria-label") == "Wipers"
