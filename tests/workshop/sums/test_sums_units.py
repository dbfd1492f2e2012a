"""One value in every unit of its kind. Factors: NIST SP 811, appendix B.9."""

from __future__ import annotations

import pytest

from specs.units import DIMENSIONS, UnitError
from workshop.sums.answer import Answer, significant
from workshop.sums.unit_table import CONVERTIBLE, convert, dimension_of, has_unit


def first_shown(dimension: str) -> str:
    return DIMENSIONS[dimension].shown_units[0]


def value(answer: Answer, unit: str) -> float:
    text = next(row.value for row in answer.rows if row.label == unit)
    return float(text.replace(unit, "").replace(",", "").replace("−", "-").strip())


@pytest.mark.parametrize(
    ("typed", "unit", "expected"),
    [
        ("82 psi", "kPa", 82 * 6.894757),
        ("82 psi", "kgf/cm²", 82 * 6.894757 / 98.0665),
        ("70 in·lbf", "N·m", 70 * 0.1129848),
        ("6 ft-lbs", "in·lbf", 72),
        ("80 kgf·cm", "N·m", 80 * 0.0980665),
        ("1 fl oz", "ml", 29.57353),
        ("1 imperial fl oz", "ml", 28.41306),
        ("68 F", "°C", 20),
        ("20 °C", "K", 293.15),
        ("180 lb", "kg", 180 * 0.45359237),
        ("1 inch", "mm", 25.4),
        ("180°", "rad", 3.14159),
    ],
)
def test_factors_are_those_of_nist(typed: str, unit: str, expected: float) -> None:
    answer = convert(typed, dimension_of(typed), first_shown)
    assert value(answer, unit) == pytest.approx(expected, rel=2e-5)


def test_the_shops_unit_comes_first_and_the_words_say_it() -> None:
    answer = convert("82 psi", "pressure", lambda dimension: "bar")
    assert answer.rows[0].label == "bar"
    assert answer.words == ("82 psi is 5.6537 bar or 565.37 kPa.",)


def test_a_number_alone_takes_the_shops_unit_of_the_kind() -> None:
    assert not has_unit("82")
    assert not has_unit("5,6")
    answer = convert("82", "pressure", first_shown)
    assert answer.words == ("82 psi is 5.6537 bar or 565.37 kPa.",)


@pytest.mark.parametrize("typed", ["82 furlongs", "82 qwertz"])
def test_an_unknown_unit_is_refused_with_examples(typed: str) -> None:
    with pytest.raises(UnitError, match=r"not known here\. Enter for example 82 psi"):
        dimension_of(typed)


def test_a_unit_with_nothing_beside_it_is_refused() -> None:
    with pytest.raises(UnitError, match="nothing to convert"):
        dimension_of("7 clicks")


def test_words_without_a_number_are_refused() -> None:
    with pytest.raises(UnitError, match="Enter a number"):
        dimension_of("psi")


def test_nothing_is_colder_than_absolute_zero() -> None:
    with pytest.raises(UnitError, match="absolute zero"):
        convert("-300 °C", "temperature", first_shown)


def test_every_unit_of_every_kind_reads_back_as_the_same_value() -> None:
    """A round trip through each unit shown, so that no label stands beside another unit's number."""
    for dimension in CONVERTIBLE:
        start = convert(f"7 {first_shown(dimension)}", dimension, first_shown)
        for row in start.rows:
            back = convert(row.value.replace(",", ""), dimension, first_shown)
            assert value(back, start.rows[0].label) == pytest.approx(7, rel=1e-3), row


@pytest.mark.parametrize(
    ("number", "text"), [(0, "0"), (1234567.8, "1,234,568"), (0.0123456, "0.012346"), (-3.5, "-3.5"), (1e-9, "1e-09")]
)
def test_significant_digits(number: float, text: str) -> None:
    assert significant(number) == text
