"""A reading held against a unit's own values: in, out with the likely slip named, or above what is never passed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnosis.declared import ARRIVAL_PRESSURE
from diagnosis.judging import (
    NOTHING,
    Judgement,
    WantedSpan,
    Yardstick,
    judge,
    kept_in_words,
    slip_out_of_range,
)
from diagnosis.wanted import UnitKnown, is_as_found, is_judged, most_of, yardstick_of
from specs.quantities import QUANTITIES, other_leg
from specs.units import DIMENSIONS, parse, show, to_si

_UNITS = {"pressure": "psi", "length": "mm", "torque": "N·m", "volume": "ml", "clicks": "clicks", "fraction": "%"}


@dataclass(frozen=True)
class _Value:
    magnitude_si: float | None
    tolerance_si: float | None = None


def _write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, _UNITS[dimension])


_FORK = UnitKnown(
    values={
        "oil_volume_air_leg": _Value(10e-6, 0.5e-6),
        "oil_volume_damper_leg": _Value(15e-6, 0.5e-6),
        "foot_torque_air_leg": _Value(8.0, 0.4),
        "foot_torque_damper_leg": _Value(8.0),
        "sag_low": _Value(0.15),
        "sag_high": _Value(0.20),
        "rebound_clicks": _Value(20),
        "max_pressure": _Value(165 * 6894.757293168361),
    },
    travel_m=0.160,
    setting_pa=82 * 6894.757293168361,
)


def _judged(typed: str, wanted: str, dimension: str, known: UnitKnown = _FORK) -> Judgement:
    unit = _UNITS[dimension]
    plan = {"key": "read", "quantity": dimension, "unit": unit, "wanted": wanted}
    read = parse(typed, dimension, unit)
    return judge(read, yardstick_of(plan, known), dimension=dimension, unit=unit, write=_write)


@pytest.mark.parametrize(
    ("typed", "wanted", "dimension", "standing", "says"),
    [
        ("10", "oil_volume_air_leg", "volume", "within", "10 ml: within 9.5 ml to 10.5 ml."),
        ("10.5", "oil_volume_air_leg", "volume", "within", ""),
        ("10.6", "oil_volume_air_leg", "volume", "outside", "outside 9.5 ml to 10.5 ml."),
        ("15", "oil_volume_air_leg", "volume", "outside", "the other leg gets"),
        ("10", "oil_volume_damper_leg", "volume", "outside", "the other leg gets"),
        ("25", "oil_volume_air_leg", "volume", "outside", "both legs together. Was 10 ml meant"),
        ("100", "oil_volume_air_leg", "volume", "outside", "Was 10 ml meant?"),
        ("1", "oil_volume_air_leg", "volume", "outside", "Was 10 ml meant?"),
        ("15", "foot_torque_air_leg", "torque", "never", "above the top of the range on record, 8.4 N·m"),
        ("8.5", "foot_torque_air_leg", "torque", "never", "above the top"),
        ("70", "foot_torque_air_leg", "torque", "never", "Was it read in in·lbf? Then write 70 in·lbf."),
        ("80", "foot_torque_air_leg", "torque", "never", "Was 8 N·m meant?"),
        ("6", "foot_torque_air_leg", "torque", "outside", "Was it read in ft·lbf? Then write 6 ft·lbf."),
        ("9", "foot_torque_damper_leg", "torque", "outside", "outside 7.7 N·m to 8.3 N·m."),
        ("10.1", "foot_torque_damper_leg", "torque", "never", "above the top"),
        ("28", "sag", "length", "within", "28 mm, 17.5 %: within 15 to 20 %."),
        ("64", "sag", "length", "outside", "64 mm, 40 %: outside 15 to 20 %."),
        ("21", "rebound_clicks", "clicks", "outside", "outside 0 clicks to 20 clicks."),
        ("0", "rebound_clicks", "clicks", "within", ""),
        ("140", "travel", "length", "outside", ""),
        ("159", "travel", "length", "within", ""),
        ("82", "pressure_setting", "pressure", "within", ""),
        ("60", "pressure_setting", "pressure", "outside", ""),
        ("5.65", "pressure_setting", "pressure", "outside", "Was it read in bar? Then write 5.65 bar."),
        ("166", "pressure_setting", "pressure", "never", "above the maximum of this fork, 165 psi."),
    ],
)
def test_a_reading_is_judged(typed: str, wanted: str, dimension: str, standing: str, says: str) -> None:
    judged = _judged(typed, wanted, dimension)
    assert judged.standing == standing
    assert says in judged.sentence


@pytest.mark.parametrize("wanted", ["oil_volume_air_leg", "sag", "travel", "rebound_clicks"])
def test_what_is_not_on_record_is_said_and_judges_nothing(wanted: str) -> None:
    dimension = {"oil_volume_air_leg": "volume", "rebound_clicks": "clicks"}.get(wanted, "length")
    judged = _judged("7", wanted, dimension, UnitKnown())
    assert judged.standing == "unjudged"
    assert "is not on record: nothing is judged." in judged.text


def test_of_a_sag_range_without_the_travel_the_travel_is_missing() -> None:
    known = UnitKnown(values={"sag_low": _Value(0.15), "sag_high": _Value(0.2)})
    assert _judged("28", "sag", "length", known).text.startswith("“Travel of the unit” is not on record")


def test_no_pressure_is_free_of_a_maximum_and_only_what_was_found_so_says_so() -> None:
    old = {"key": "pressure_set", "quantity": "pressure", "unit": "psi"}
    assert most_of(old) == "max_pressure"
    assert is_judged(old)
    assert not is_as_found(old)
    assert is_as_found({**old, "measures": ARRIVAL_PRESSURE})
    assert not is_as_found({**old, "as_found": False})
    assert is_as_found({**old, "as_found": True})
    assert not is_judged({"key": "rest_travel", "quantity": "length", "unit": "mm"})


def test_a_key_that_this_version_does_not_know_judges_nothing() -> None:
    assert _judged("7", "of_a_later_version", "length") == Judgement("unjudged")


def test_the_other_leg_of_a_quantity_is_named_by_both() -> None:
    for key in QUANTITIES:
        assert other_leg(key) == "" or other_leg(other_leg(key)) == key
    assert other_leg("oil_volume_air_leg") == "oil_volume_damper_leg"
    assert other_leg("axle_torque") == ""


_SIZES = {"pressure": (1e5, 2e6), "length": (0.001, 0.2), "torque": (1.0, 30.0), "volume": (2e-6, 2e-4)}


@st.composite
def _yardsticks(draw: st.DrawFn) -> tuple[str, Yardstick]:
    dimension = draw(st.sampled_from(sorted(_SIZES)))
    low, high = _SIZES[dimension]
    value = draw(st.floats(low, high))
    off = value * draw(st.floats(0.0, 0.2))
    other = draw(st.none() | st.floats(low, high))
    most = draw(st.none() | st.floats(1.0, 3.0))
    return dimension, Yardstick(
        wanted=WantedSpan("This", value - off, value + off, value),
        other=None if other is None else WantedSpan("That", other * 0.95, other * 1.05, other),
        most=None if most is None else (value + off) * most,
    )


@given(_yardsticks(), st.floats(0.0, 60.0))
def test_the_standing_says_where_a_reading_lies_and_nothing_else(made: tuple[str, Yardstick], times: float) -> None:
    dimension, yardstick = made
    assert yardstick.wanted is not None
    assert yardstick.wanted.value is not None
    read = yardstick.wanted.value * times
    judged = judge(read, yardstick, dimension=dimension, unit=_UNITS[dimension], write=_write)
    expected = "within" if yardstick.wanted.holds(read) else "outside"
    if yardstick.most is not None and read > yardstick.most * (1 + 1e-6):
        expected = "never"
    assert judged.standing == expected
    assert judged.standing != "within" or not judged.slip


@given(_yardsticks(), st.data())
def test_a_wanted_value_read_in_another_unit_is_told_where_the_legs_do_not_explain_it(
    made: tuple[str, Yardstick], data: st.DataObject
) -> None:
    dimension, yardstick = made
    wanted = yardstick.wanted
    assert wanted is not None
    assert wanted.value is not None
    unit = _UNITS[dimension]
    meant = data.draw(st.sampled_from([one for one in DIMENSIONS[dimension].shown_units if one != unit]))
    slipped = wanted.value * to_si(1.0, dimension, unit) / to_si(1.0, dimension, meant)
    judged = judge(slipped, yardstick, dimension=dimension, unit=unit, write=_write)
    if judged.standing == "within":  # ml and cm³ are one
        assert wanted.holds(slipped)
    elif "leg" not in judged.slip:
        assert "Was it read in" in judged.slip


@given(_yardsticks())
def test_legs_filled_the_wrong_way_round_are_told_on_both(made: tuple[str, Yardstick]) -> None:
    dimension, here = made
    if here.wanted is None or here.other is None:
        return
    there = Yardstick(wanted=here.other, other=here.wanted)
    for yardstick, read in ((here, here.other.value), (there, here.wanted.value)):
        assert yardstick.wanted is not None
        assert read is not None
        judged = judge(read, yardstick, dimension=dimension, unit=_UNITS[dimension], write=_write)
        assert yardstick.wanted.holds(read) or "legs mixed up" in judged.slip


@given(st.floats(0.0, 1e9), st.sampled_from(sorted(_SIZES)))
def test_where_nothing_is_declared_nothing_is_said(read: float, dimension: str) -> None:
    assert judge(read, NOTHING, dimension=dimension, unit=_UNITS[dimension], write=_write) == Judgement("unjudged")


_SAG = {"label": "Sag", "low": 0.024, "high": 0.032, "whole": 0.16}
_TRAVEL = {"label": "Travel", "low": 0.157, "high": 0.163, "value": 0.16}


@pytest.mark.parametrize(
    ("read_si", "held_against", "outside", "said"),
    [
        (0.028, {}, False, ("28 mm", "")),
        (0.028, {}, True, ("28 mm", "above the maximum")),
        (0.028, _SAG, False, ("28 mm, 17.5 %", "within 15 to 20 %")),
        (0.064, _SAG, True, ("64 mm, 40 %", "outside 15 to 20 %")),
        (0.159, _TRAVEL, False, ("159 mm", "within 157 mm to 163 mm")),
    ],
)
def test_what_was_kept_of_a_reading_is_said_as_it_was_judged_then(
    read_si: float, held_against: dict[str, Any], outside: bool, said: tuple[str, str]
) -> None:
    assert kept_in_words(read_si, held_against, outside=outside, dimension="length", write=_write) == said


@pytest.mark.parametrize(
    ("typed", "unit", "dimension", "low", "high", "slip"),
    [
        ("82000", "kg", "mass", 30.0, 200.0, "A thousand times too much? Was 82 kg meant?"),
        ("25", "°", "angle", 1.0, 1.4, "Was it measured from the upright? Then it is 65°."),
        ("5.65", "psi", "pressure", 2e5, 2e6, "Was it read in bar? Then write 5.65 bar."),
        ("1600", "mm", "length", 0.1, 0.2, "Ten times too much? Was 160 mm meant?"),
        ("16", "mm", "length", 0.1, 0.2, "A tenth of it? Was 160 mm meant?"),
        ("7", "mm", "length", 0.1, 0.2, "Was it read in inches? Then write 7 in."),
        ("3", "mm", "length", 0.1, 0.2, ""),
        ("7", "mm", "length", None, 0.2, ""),
    ],
)
def test_the_slip_behind_a_value_that_none_can_have_is_asked(
    typed: str, unit: str, dimension: str, low: float | None, high: float | None, slip: str
) -> None:
    magnitude = to_si(float(typed), dimension, unit)
    said = slip_out_of_range(magnitude, low, high, dimension, unit)
    assert said.replace("\N{NARROW NO-BREAK SPACE}", " ").replace("\N{NO-BREAK SPACE}", " ") == slip
