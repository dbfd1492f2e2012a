"""Measures as people type them. Stone, pound, psi and bar: NIST SP 811, appendix B.8."""

from __future__ import annotations

import pytest

from specs.typed_measures import Depth, beside_unit, factors_beside, number_beside, read_depth
from specs.units import DIMENSIONS, NumberUnclear, UnitError, parse
from tests.known import known

PSI, POUND, STONE = 6894.757293168361, 0.45359237, 6.35029318


@pytest.mark.parametrize(
    ("typed", "kg"),
    [
        ("12 st 4", 12 * STONE + 4 * POUND),
        ("12st4lb", 12 * STONE + 4 * POUND),
        ("12 stone 4 lbs", 12 * STONE + 4 * POUND),
        ("11 St 0", 11 * STONE),
        ("12 st 4,5 lb", 12 * STONE + 4.5 * POUND),
        ("12 st", 12 * STONE),
        ("12.5 st", 12.5 * STONE),
        ("172 lb", 172 * POUND),
        ("172 lbs.", 172 * POUND),
        ("172 pounds", 172 * POUND),
        ("78 kg", 78.0),
        ("78,5", 78.5),
    ],
)
def test_a_weight_in_whatever_people_weigh_themselves_in(typed: str, kg: float) -> None:
    assert parse(typed, "mass", "kg") == pytest.approx(kg, rel=1e-9)


@pytest.mark.parametrize("typed", ["12 st 14", "12.5 st 4", "12 st 4 kg", "st 4", "12 st x", "12 st 4 st"])
def test_a_weight_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(UnitError):
        parse(typed, "mass", "kg")


def test_stones_and_pounds_are_no_pressure() -> None:
    with pytest.raises(UnitError, match="not known here"):
        parse("12 st 4", "pressure", "psi")


@pytest.mark.parametrize(
    ("typed", "psi"), [("78", 78), ("78 psi", 78), ("78PSI", 78), ("5.4 bar", 78.3204), ("5,4 bar", 78.3204)]
)
def test_a_pressure_in_a_psi_field_is_never_misread(typed: str, psi: float) -> None:
    """5.4 bar is 78.32 psi: never 5.4 psi."""
    assert parse(typed, "pressure", "psi") / PSI == pytest.approx(psi, rel=1e-6)


@pytest.mark.parametrize(
    ("typed", "unit", "depth"),
    [
        ("26", "mm", Depth(depth_m=0.026)),
        ("26 mm", "%", Depth(depth_m=0.026)),
        ("20 %", "mm", Depth(share=0.20)),
        ("20%", "mm", Depth(share=0.20)),
        ("20 percent", "mm", Depth(share=0.20)),
        ("20", "%", Depth(share=0.20)),
        ("1 in", "mm", Depth(depth_m=0.0254)),
    ],
)
def test_a_depth_or_a_share(typed: str, unit: str, depth: Depth) -> None:
    read = read_depth(typed, unit=unit, length_unit="mm")
    assert read.of(0.160) == pytest.approx(depth.of(0.160))
    assert (read.share is None) == (depth.share is None)


@pytest.mark.parametrize("typed", ["20 psi", "", "deep", "20 furlongs"])
def test_what_is_no_depth_is_refused_with_its_reason(typed: str) -> None:
    with pytest.raises(UnitError):
        read_depth(typed, unit="mm", length_unit="mm")


def test_a_share_that_could_be_two_numbers_is_asked() -> None:
    with pytest.raises(NumberUnclear):
        read_depth("1.500 %", unit="mm", length_unit="mm")


@pytest.mark.parametrize(
    ("typed", "unit", "beside"),
    [
        ("30 mm", "mm", "30"),
        ("78 psi", "psi", "78"),
        ("78PSI", "psi", "78"),
        ("70 in-lb", "in·lbf", "70"),
        ("65°", "°", "65"),
        ("5.4 bar", "psi", "5.4 bar"),
        ("20 %", "mm", "20 %"),
        ("about 30 mm", "mm", "about 30 mm"),
        ("", "mm", ""),
    ],
)
def test_a_value_does_not_repeat_the_unit_beside_it(typed: str, unit: str, beside: str) -> None:
    assert beside_unit(typed, unit) == beside


@pytest.mark.parametrize("dimension", sorted(DIMENSIONS))
def test_what_stands_beside_a_unit_reads_back_as_the_same(dimension: str) -> None:
    for unit in DIMENSIONS[dimension].shown_units:
        magnitude_si = parse(f"1234.5 {unit}" if unit else "1234.5", dimension, unit)
        again = parse(number_beside(magnitude_si, dimension, unit), dimension, unit)
        assert again == pytest.approx(magnitude_si, rel=1e-3)


def test_factors_for_the_tablet_are_those_of_the_registry() -> None:
    factors = factors_beside("pressure", "psi")
    assert factors["psi"] == pytest.approx(1.0)
    assert factors["bar"] == pytest.approx(1e5 / PSI)
    assert "mm" not in factors
    assert factors_beside("length", "mm", whole_si=0.160)["%"] == pytest.approx(1.6)
    assert "%" not in factors_beside("length", "mm")
    assert factors_beside("temperature", "°C") == {}


def test_every_dimension_has_the_spelling_of_its_own_unit() -> None:
    for dimension, kind in DIMENSIONS.items():
        if dimension in ("temperature", "count"):
            continue
        factors = factors_beside(dimension, kind.shown_units[0])
        assert known(factors.get(kind.shown_units[0].lower().replace(" ", ""))) == pytest.approx(1.0), dimension
