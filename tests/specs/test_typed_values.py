"""A value as typed: any unit of its dimension, refused with the reason where it cannot be right."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.quantities import QUANTITIES, ImplausibleValue, Quantity, check_plausible
from specs.typed_values import TypedValue, ValueRefused, read_typed, same_value, split_typed
from specs.units import DIMENSIONS, UnitError, from_si, parse, show, to_si
from tests.known import known


@pytest.mark.parametrize(
    ("quantity", "typed", "unit", "magnitude_si"),
    [
        # Factors of NIST SP 811, appendix B.
        ("max_pressure", "120 psi", "bar", 120 * 6894.757293168),
        ("max_pressure", "8,3 bar", "psi", 8.3e5),
        ("max_pressure", "120", "psi", 120 * 6894.757293168),
        ("foot_torque_air_leg", "70 in-lb", "N·m", 70 * 0.1129848290276),
        ("foot_torque_air_leg", "80 kgf·cm", "N·m", 80 * 0.0980665),
        ("oil_volume_air_leg", "0.5 fl oz", "ml", 0.5 * 29.5735295625e-6),
        ("sag_low", "15", "%", 0.15),
        ("full_interval_hours", "100", "h", 360_000.0),
    ],
)
def test_reads_any_unit_of_the_dimension(quantity: str, typed: str, unit: str, magnitude_si: float) -> None:
    read = read_typed(quantity=quantity, typed=typed, unit=unit)
    assert read.magnitude_si == pytest.approx(magnitude_si, rel=1e-9)


def test_keeps_what_was_typed_with_the_unit_that_was_meant() -> None:
    assert read_typed(quantity="max_pressure", typed=" 120 ", unit="psi").typed == "120 psi"
    assert read_typed(quantity="max_pressure", typed="8,3 bar", unit="psi").typed == "8,3 bar"


def test_text_is_kept_as_text() -> None:
    assert read_typed(quantity="damper_oil", typed="Fell  Fluid 5 ", unit="") == TypedValue(
        typed="Fell Fluid 5", text="Fell Fluid 5"
    )


@pytest.mark.parametrize(
    ("tolerance", "expected_nm"),
    [("", None), ("0.5", 0.5), ("±0,5", 0.5), ("+/- 0.5 N·m", 0.5), ("5 %", 0.4), ("± 5%", 0.4), ("0", None)],
)
def test_tolerance_in_the_unit_or_in_percent(tolerance: str, expected_nm: float | None) -> None:
    read = read_typed(quantity="foot_torque_air_leg", typed="8", unit="N·m", tolerance=tolerance)
    assert read.tolerance_si == (None if expected_nm is None else pytest.approx(expected_nm))


def test_a_bare_tolerance_takes_the_unit_of_its_value() -> None:
    read = read_typed(quantity="foot_torque_air_leg", typed="70 in·lbf", unit="N·m", tolerance="5")
    assert read.tolerance_si == pytest.approx(5 * 0.1129848290276)


@pytest.mark.parametrize(
    ("quantity", "typed", "unit", "tolerance", "field", "reason"),
    [
        ("colour", "red", "", "", "quantity", "no quantity"),
        ("max_pressure", "", "psi", "", "typed", "Enter the value"),
        ("max_pressure", "plenty", "psi", "", "typed", "Enter a number"),
        ("max_pressure", "12 N·m", "psi", "", "typed", "not a unit of pressure"),
        ("max_pressure", "12 furlongs", "psi", "", "typed", "not known here"),
        ("max_pressure", "120", "", "", "typed", "unit is missing"),
        ("max_pressure", "1,200.5", "psi", "", "typed", "far more"),
        ("max_pressure", "1.200", "psi", "", "typed", "could be 1.2 or 1200"),
        ("max_pressure", "-20 psi", "psi", "", "typed", "far less"),
        ("max_pressure", "1" * 200, "psi", "", "typed", "Enter a number"),
        ("foot_torque_air_leg", "80 N·m", "N·m", "", "typed", "decimal point"),
        ("axle_torque", "120", "N·m", "", "typed", "decimal point"),
        ("rebound_clicks", "7.5", "clicks", "", "typed", "whole numbers"),
        ("foot_torque_air_leg", "8", "N·m", "10", "tolerance", "as large as the value"),
        ("foot_torque_air_leg", "8", "N·m", "-1", "tolerance", "minus sign"),
        ("foot_torque_air_leg", "8", "N·m", "1 psi", "tolerance", "not a unit of torque"),
        ("foot_torque_air_leg", "8", "N·m", "some", "tolerance", "Enter a number"),
        ("damper_oil", "a\nb", "", "", "typed", "one line"),
        ("damper_oil", "x" * 121, "", "", "typed", "At most 120"),
        ("damper_oil", "Fell Fluid 5", "", "1", "tolerance", "no tolerance"),
    ],
)
def test_refuses_with_the_field_and_the_reason(
    quantity: str, typed: str, unit: str, tolerance: str, field: str, reason: str
) -> None:
    with pytest.raises(ValueRefused, match=reason) as refused:
        read_typed(quantity=quantity, typed=typed, unit=unit, tolerance=tolerance)
    assert refused.value.field == field


def test_the_same_value_in_another_unit_is_the_same() -> None:
    bar = read_typed(quantity="max_pressure", typed="1 bar", unit="")
    kpa = read_typed(quantity="max_pressure", typed="100 kPa", unit="")
    assert same_value(kpa, magnitude_si=bar.magnitude_si, text="", tolerance_si=None)
    assert not same_value(kpa, magnitude_si=bar.magnitude_si, text="", tolerance_si=1000.0)


@pytest.mark.parametrize(
    ("typed", "parts"),
    [("8.0 N·m", ("8.0", "N·m")), ("20%", ("20", "%")), ("8,5", ("8,5", "")), ("oil", ("oil", ""))],
)
def test_split_typed(typed: str, parts: tuple[str, str]) -> None:
    assert split_typed(typed) == parts


_UNITS = [(key, unit) for key, dimension in DIMENSIONS.items() for unit in dimension.shown_units]


@given(st.sampled_from(_UNITS), st.floats(min_value=-1e6, max_value=1e6))
def test_what_is_shown_reads_back_to_what_is_shown(dimension_unit: tuple[str, str], magnitude: float) -> None:
    """show() rounds to what an instrument can be read to; reading that and showing it again changes nothing."""
    dimension, unit = dimension_unit
    shown = show(to_si(magnitude, dimension, unit), dimension, unit)
    assert show(parse(shown, dimension, unit), dimension, unit) == shown


@given(st.sampled_from(_UNITS), st.floats(min_value=-1e6, max_value=1e6))
def test_to_and_from_si_undo_each_other(dimension_unit: tuple[str, str], magnitude: float) -> None:
    dimension, unit = dimension_unit
    back = from_si(to_si(magnitude, dimension, unit), dimension, unit)
    assert back == pytest.approx(magnitude, rel=1e-9, abs=1e-9)


@given(st.text(max_size=40), st.sampled_from(_UNITS))
def test_whatever_is_typed_is_a_finite_number_or_refused_in_words(typed: str, dimension_unit: tuple[str, str]) -> None:
    dimension, unit = dimension_unit
    refusal = ""
    magnitude_si = 0.0
    try:
        magnitude_si = parse(typed, dimension, unit)
    except UnitError as error:
        refusal = str(error)
    assert math.isfinite(magnitude_si)
    assert not refusal or "Enter" in refusal


_MEASURED = [quantity for quantity in QUANTITIES.values() if quantity.dimension is not None]


@given(st.sampled_from(_MEASURED), st.floats(min_value=0, max_value=1))
def test_everything_between_the_bounds_is_plausible(quantity: Quantity, share: float) -> None:
    low, high = known(quantity.low), known(quantity.high)
    check_plausible(quantity.key, low + share * (high - low))


@given(st.sampled_from(_MEASURED), st.floats(min_value=1.01, max_value=1e6))
def test_beyond_the_bounds_is_refused_with_the_reason(quantity: Quantity, factor: float) -> None:
    with pytest.raises(ImplausibleValue, match="far more") as refused:
        check_plausible(quantity.key, known(quantity.high) * factor)
    assert quantity.why_range in str(refused.value)
    with pytest.raises(ImplausibleValue, match="far less"):
        check_plausible(quantity.key, -factor)


def test_a_sag_is_a_share_or_a_depth_of_one_travel() -> None:
    """26 mm of 160 mm are 16.25 %."""
    read = read_typed(quantity="sag_low", typed="26 mm", unit="%", travel_mm=160)
    assert (read.typed, known(read.magnitude_si)) == ("26 mm", pytest.approx(0.1625))
    assert known(read_typed(quantity="sag_high", typed="20", unit="%", travel_mm=160).magnitude_si) == pytest.approx(
        0.2
    )
    assert known(read_typed(quantity="sag_high", typed="20 %", unit="").magnitude_si) == pytest.approx(0.2)


@pytest.mark.parametrize(("typed", "travel_mm", "said"), [
    ("26 mm", 0, "share of one travel"), ("150 mm", 160, "between 5 and 45"), ("26 psi", 160, "depth or a share"),
])  # fmt: skip
def test_a_sag_that_cannot_be_is_refused(typed: str, travel_mm: int, said: str) -> None:
    with pytest.raises(ValueRefused, match=said):
        read_typed(quantity="sag_low", typed=typed, unit="%", travel_mm=travel_mm)
