"""Readings of a measured fork as lines. 1 kg presses with 9.80665 N (CGPM 1901); psi and lbf: NIST SP 811, B.8."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.measured_readings import LineRead, LinesRefused, read_force, read_lines

HEADER = "pressure;temperature;travel;force;direction\n"


def test_lines_are_read_in_any_unit_and_any_order_of_columns() -> None:
    read = read_lines("direction,force,travel,pressure\nin,12.2 kg,30,78\nout,100 N,3 cm,5.4 bar\n", travel_m=0.160)
    first, second = (one.reading for one in read)
    assert first.force_n == pytest.approx(12.2 * 9.80665)
    assert first.pressure_pa == pytest.approx(78 * 6894.757293168)
    assert (first.travel_m, second.travel_m) == pytest.approx((0.030, 0.030))
    assert second.pressure_pa == pytest.approx(5.4e5)
    assert [one.line for one in read] == [2, 3]
    assert first.reading_k == pytest.approx(293.15)


def test_the_first_line_of_a_pressure_says_how_warm_it_was_filled() -> None:
    read = read_lines(HEADER + "78;20;10;100;in\n78;30;20;150;in\n90;25;10;120;in\n", travel_m=0.160)
    assert [one.reading.filled_k - 273.15 for one in read] == pytest.approx([20, 20, 25])
    assert [one.reading.reading_k - 273.15 for one in read] == pytest.approx([20, 30, 25])


def test_comma_and_point() -> None:
    read = read_lines(HEADER + "5,4 bar;20,5;12,5;100,5;in\n", travel_m=0.160)
    assert read[0].reading.travel_m == pytest.approx(0.0125)
    assert read[0].reading.force_n == pytest.approx(100.5)


def test_every_wrong_line_is_named_at_once() -> None:
    text = HEADER + (
        "78;20;10;100;in\n78;20;170;100;in\n78;20;20;many;in\n78;20;20;100;sideways\n78;20;20 psi;100;in\n"
        "78;20;10;100;in\n900;20;10;100;in\n78;900;11;100;in\n78;20;12;-5000;in\n"
    )
    with pytest.raises(LinesRefused) as refused:
        read_lines(text, travel_m=0.160)
    errors = refused.value.errors
    assert sorted(errors) == [3, 4, 5, 6, 7, 8, 9, 10]
    assert "deeper than this fork goes, 160 mm" in errors[3]
    assert errors[4].startswith("Force:")
    assert "neither in nor out" in errors[5]
    assert errors[6].startswith("Travel:")
    assert "The same as line 2" in errors[7]
    assert refused.value.sentences[0].startswith("Line 3: ")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty"),
        (HEADER, "no values"),
        ("pressure;travel\n1;2\n", "has no column force, direction"),
        (HEADER + "78;20;10;100;in;more\n", "6 cells in 5 columns"),
        ("pressure;travel;force;direction;colour\n", "not known here: colour"),
        (HEADER + '78;20;"10;100;in\n', "quotation mark"),
    ],
)
def test_what_is_not_our_layout_says_so(text: str, said: str) -> None:
    with pytest.raises(LinesRefused, match=said):
        read_lines(text, travel_m=0.160)


@pytest.mark.parametrize(
    ("typed", "newtons"), [("120", 120), ("12 kg", 117.6798), ("27 lbf", 120.1020), ("26 lb", 115.6543)]
)
def test_forces_as_scales_show_them(typed: str, newtons: float) -> None:
    assert read_force(typed) == pytest.approx(newtons, rel=1e-5)


NEARLY = st.text("0123456789.,;-+ inoutkg°CmpsiN\n\t\"'", max_size=200)


def taken_or_refused(text: str) -> list[LineRead] | list[str]:
    """The readings, or what is wrong with the text."""
    try:
        return read_lines(text, travel_m=0.160)
    except LinesRefused as refused:
        return refused.sentences


@given(st.text(max_size=200) | NEARLY.map(lambda text: HEADER + text))
def test_whatever_text_is_sent_it_is_readings_or_refused_by_line(text: str) -> None:
    told = taken_or_refused(text)
    assert told
    for one in told:
        assert one.strip() if isinstance(one, str) else 0.0 <= one.reading.travel_m <= 0.160 + 1e-9
