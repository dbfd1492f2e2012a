"""The drawings' numbers: axes, columns, bars and the survival curve. No database, and one template test each."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from django.template.loader import render_to_string
from hypothesis import given
from hypothesis import strategies as st

from workshop.plots.axis import axis_to
from workshop.plots.bars import BarValue, bars
from workshop.plots.columns import Columns, Fill, Series, columns
from workshop.plots.survival import SurvivalStep, survival_curve


def drawn(plot: object) -> ET.Element:
    """The SVG as a browser reads it; a drawing with a style attribute would be refused by the policy."""
    text = render_to_string(plot.template, {"plot": plot})  # type: ignore[attr-defined]
    assert "style" not in text
    return ET.fromstring(text)  # noqa: S314  what we drew ourselves


def two_months(*, stacked: bool) -> Columns:
    series = [Series("kept", [3.0, None], Fill.LIGHT), Series("late", [1.0, 2.0], Fill.HATCHED)]
    plot = columns(key="k", places=["May", "Jun"], series=series, y_label="n", summary="Two", stacked=stacked)
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


def test_nothing_to_draw_draws_nothing() -> None:
    empty = Series("kept", [None, 0.0], Fill.SOLID)
    assert columns(key="k", places=["a", "b"], series=[empty], y_label="", summary="") is None
    assert bars(key="k", rows=[], x_label="", summary="") is None


def test_a_value_too_many_is_refused() -> None:
    with pytest.raises(ValueError, match="values for"):
        columns(key="k", places=["a"], series=[Series("x", [1.0, 2.0], Fill.SOLID)], y_label="", summary="")


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
