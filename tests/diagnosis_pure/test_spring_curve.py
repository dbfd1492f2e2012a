"""The drawing of a spring: what lies where."""

from __future__ import annotations

import itertools

import pytest

from diagnosis.spring_answer import answer_from_readings
from tests.diagnosis_pure.test_spring_answer import METRIC, PSI, SPRING
from workshop.plots.spring_curve import SpringCurve, spring_curve


def drawn(rest_mm: float, reading_psi: float) -> SpringCurve:
    answer = answer_from_readings(
        SPRING, rest_travel_m=rest_mm / 1000, reading_pa=reading_psi * PSI, unit_for=METRIC.__getitem__
    )
    curve = spring_curve(SPRING, answer, METRIC.__getitem__)
    assert curve is not None
    return curve


def both(rest_mm: float, reading_psi: float) -> tuple[SpringCurve, SpringCurve]:
    """As a desk has it, and as a phone has it."""
    wide = drawn(rest_mm, reading_psi)
    assert wide.narrow is not None
    return wide, wide.narrow


def points(text: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in text.split())]


def test_the_line_as_it_is_now_crosses_nought_where_the_fork_rests() -> None:
    curve = drawn(70, 78)
    assert curve.now is not None

    crossings = [
        x1
        for (x1, y1), (_x2, y2) in itertools.pairwise(points(curve.now.points))
        if (y1 - curve.zero_y) * (y2 - curve.zero_y) <= 0
    ]

    assert len(crossings) == 1
    assert crossings[0] == pytest.approx(curve.rest_x, abs=8)


def test_everything_lies_inside_the_frame() -> None:
    for curve in both(70, 78):
        lines = [curve.healthy, curve.now, curve.at_maximum]
        for x, y in itertools.chain.from_iterable(points(line.points) for line in lines if line):
            assert curve.frame.left <= x <= curve.frame.right
            assert curve.frame.top - 1 <= y <= curve.frame.bottom + 1


@pytest.mark.parametrize(("rest_mm", "reading_psi"), [(70, 78), (4, 80)])
def test_no_line_strikes_a_word_of_the_key_and_all_of_it_is_in_the_picture(rest_mm: float, reading_psi: float) -> None:
    for curve in both(rest_mm, reading_psi):
        letter = 0.55 * curve.frame.font_size  # the width of a letter, about, of the size in which the key is set
        for key in curve.keys:
            x, y, words = float(str(key["x"])), float(str(key["y"])), str(key["words"])
            assert y - 12 > curve.frame.bottom + 46
            assert y + 12 <= curve.frame.height
            assert x + 40 + letter * len(words) <= curve.frame.width
        assert len({(key["x"], key["y"]) for key in curve.keys}) == len(curve.keys)


def test_no_number_of_an_axis_is_cut_off_or_lies_over_its_neighbour() -> None:
    for curve in both(70, 78):
        letter = 0.6 * curve.frame.font_size
        for tick in curve.x_ticks:
            assert tick.at + letter * len(tick.words) / 2 <= curve.frame.width, tick.words
        for tick in curve.y_ticks:
            # what is said of the axis stands there
            assert curve.frame.left - 8 - letter * len(tick.words) >= curve.frame.name_x, tick.words
        for one, other in itertools.pairwise(curve.x_ticks):
            assert one.at + letter * (len(one.words) + len(other.words)) / 2 < other.at
        for one, other in itertools.pairwise(curve.y_ticks):
            assert one.at - other.at >= curve.frame.font_size


def test_the_name_of_an_axis_is_not_longer_than_the_picture() -> None:
    for curve in both(70, 78):
        letter = 0.55 * curve.frame.font_size
        assert letter * len(curve.x_label) / 2 <= curve.frame.middle_x
        assert letter * len(curve.y_label) <= curve.frame.bottom + 40


def test_its_words_are_legible_on_a_phone() -> None:
    """A step's sheet has some 250 px for the drawing on a phone of 320 px."""
    _, narrow = both(70, 78)
    assert narrow.frame.font_size * 250 / narrow.frame.width >= 12


def test_a_healthy_fork_has_one_line() -> None:
    curve = drawn(4, 80)

    assert curve.now is None
    assert curve.at_maximum is None
    assert curve.healthy_from_x <= curve.rest_x <= curve.healthy_to_x + 1


def test_maximum_pressure_stays_below_nought_at_the_port_when_it_cannot_free_the_fork() -> None:
    curve = drawn(70, 78)
    assert curve.at_maximum is not None

    at_port = min(points(curve.at_maximum.points), key=lambda point: abs(point[0] - curve.port_x))

    assert at_port[1] > curve.zero_y  # drawing units run downwards


def test_contradicting_readings_have_no_drawing() -> None:
    answer = answer_from_readings(SPRING, rest_travel_m=0.0, reading_pa=80 * PSI, unit_for=METRIC.__getitem__)

    assert spring_curve(SPRING, answer, METRIC.__getitem__) is None


def test_axes_carry_round_numbers_in_the_shops_units() -> None:
    curve = drawn(70, 78)

    assert [tick.words for tick in curve.x_ticks] == ["0", "20", "40", "60", "80", "100", "120", "140", "160"]
    assert "0" in [tick.words for tick in curve.y_ticks]
    assert curve.x_label.endswith("mm")
