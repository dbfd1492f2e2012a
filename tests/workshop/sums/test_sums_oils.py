"""Oils by numbers. Index and viscosities: ASTM D2270 and D341, checked values of two oils; blends by `chemicals`."""

from __future__ import annotations

import math

import pytest

from specs.physics.errors import ImpossibleValue
from specs.physics.oil import OilAtTwoTemperatures, viscosity_at
from workshop.sums.answer import NBSP, Answer
from workshop.sums.oils import Mixing, NamedOil, near_oils, oil_sum, valid_temperatures_c

SHOP = (
    NamedOil("Thick", 46.0, 6.8),
    NamedOil("Thin", 15.0, 3.8, in_stores=True),
    NamedOil("Unknown", None, None),
    NamedOil("Swapped", 3.8, 15.0),
)


def ask(
    kv40: float = 32.0, kv100: float = 5.4, at: float = 20.0, name: str = "Typed", mixing: Mixing | None = None
) -> Answer:
    words = {c: f"{c:g} °C" for c in (40.0, 100.0, at)}
    return oil_sum(
        name=name,
        oil=OilAtTwoTemperatures(kv40, kv100),
        temperature_c=at,
        temperature_words=words,
        shop_oils=SHOP,
        mixing=mixing,
    )


def row(answer: Answer, label: str) -> str:
    return next(row.value for row in answer.rows if row.label == label)


@pytest.mark.parametrize(
    ("kv40", "kv100", "index"), [(73.30, 8.86, "92"), (22.83, 5.05, "156"), (32.0, 5.4, "102"), (15.0, 3.8, "151")]
)
def test_the_index(kv40: float, kv100: float, index: str) -> None:
    """ASTM D2270 sections 5.1.4 and 6.1.4 print the first two; `chemicals` 1.5.2 gives the others."""
    assert row(ask(kv40, kv100), "Viscosity index") == index


@pytest.mark.parametrize(("at", "expected"), [(0.0, "336"), (20.0, "86.28"), (60.0, "15.19"), (80.0, "8.533")])
def test_viscosity_at_a_temperature(at: float, expected: str) -> None:
    """ASTM D341 of 32 / 5.4 mm²/s: 335.9996, 86.2779, 15.1859, 8.5332."""
    assert row(ask(at=at), f"Viscosity at {at:g} °C") == f"{expected} mm²/s"


def test_stand_ins_are_sorted_by_viscosity_at_work_with_their_differences() -> None:
    rows = ask().tables[0].rows
    assert [cells[0] for cells in rows] == ["Thick", "Thin"]
    assert rows[0][1:5] == (f"46{NBSP}mm²/s", f"+43.8{NBSP}%", "102", f"−0.6{NBSP}%")
    assert rows[1][-1] == "yes"
    assert rows[0][-1] == "no"


def test_an_oil_does_not_stand_in_for_itself() -> None:
    rows = ask(46.0, 6.8, name="Thick").tables[0].rows
    assert [cells[0] for cells in rows] == ["Thin"]


def test_a_near_oil_is_said_to_be_near() -> None:
    assert ask(44.5, 6.7).words[1].startswith("Thick stands nearest")
    assert ask().words[1].startswith("Nothing on the shop’s list is near")


def test_oils_that_cannot_be_compared_are_named() -> None:
    assert any("Swapped, Unknown" in line for line in ask().assumed)


def test_a_grade_and_a_gap_between_grades() -> None:
    """ISO 3448: VG 32 takes in 28.8 to 35.2, VG 22 ends at 24.2."""
    assert row(ask(), "ISO 3448 grade") == "VG 32"
    assert row(ask(26.0, 4.8), "ISO 3448 grade") == "between grades"


def test_a_half_and_half_mixture() -> None:
    """ASTM D7152: log10 log10 (v + 0.7) averages by volume; by hand for 32 and 46."""
    answer = ask(mixing=Mixing("Thick", OilAtTwoTemperatures(46.0, 6.8), share=0.5))
    mean = (math.log10(math.log10(32.7)) + math.log10(math.log10(46.7))) / 2
    assert float(row(answer, "The mixture at 40 °C").split()[0]) == pytest.approx(10 ** (10**mean) - 0.7, abs=0.01)
    assert any("Makers advise against mixing" in warning for warning in answer.warnings)


@pytest.mark.parametrize("second", [("Thick", 46.0, 6.8), ("Thin", 15.0, 3.8)])
def test_a_wanted_viscosity_gives_the_share_whichever_oil_is_thicker(second: tuple[str, float, float]) -> None:
    name, kv40, kv100 = second
    wanted = (32.0 + kv40) / 2
    answer = ask(mixing=Mixing(name, OilAtTwoTemperatures(kv40, kv100), wanted_kv40_mm2_s=wanted))
    assert row(answer, "The mixture at 40 °C") == f"{wanted:g} mm²/s"


def test_a_viscosity_no_mixture_has_is_refused() -> None:
    with pytest.raises(ImpossibleValue) as refused:
        ask(mixing=Mixing("Thick", OilAtTwoTemperatures(46.0, 6.8), wanted_kv40_mm2_s=100.0))
    assert refused.value.field == "wanted_kv40_mm2_s"


def test_mixing_needs_a_share_or_a_viscosity() -> None:
    with pytest.raises(ImpossibleValue) as refused:
        ask(mixing=Mixing("Thick", OilAtTwoTemperatures(46.0, 6.8)))
    assert refused.value.field == "share"


def test_two_oils_alike_mix_to_nothing_else() -> None:
    with pytest.raises(ImpossibleValue) as refused:
        ask(mixing=Mixing("Twin", OilAtTwoTemperatures(32.0, 5.5), wanted_kv40_mm2_s=32.0))
    assert refused.value.field == "mixing"


def test_where_the_equation_ends_the_possible_range_is_said() -> None:
    with pytest.raises(ImpossibleValue, match=r"It reaches from -?\d+ to \d+ °C") as refused:
        ask(15.0, 3.8, at=200.0)
    assert refused.value.field == "temperature_c"
    low_c, high_c = valid_temperatures_c(OilAtTwoTemperatures(15.0, 3.8))
    assert low_c < 40 < high_c
    ask(15.0, 3.8, at=high_c)
    with pytest.raises(ImpossibleValue):
        ask(15.0, 3.8, at=high_c + 1)


def test_far_from_the_measured_temperatures_there_is_a_warning() -> None:
    assert any("outside the measured temperatures" in warning for warning in ask(at=-20.0).warnings)
    assert not ask(at=20.0).warnings


# The closest oil is the one whose viscosity at the working temperature is nearest, as a ratio: ASTM D341 by hand below.


def closest(wanted: tuple[float, float], at: float, **oils: tuple[float, float]) -> str:
    found = near_oils(OilAtTwoTemperatures(*wanted), [NamedOil(name, *kv) for name, kv in oils.items()], at)
    return found[0].named.name


def test_an_oil_alike_in_index_is_not_closer_than_one_alike_at_work() -> None:
    """At 20 °C (D341): wanted 32/5.4 has 86.3, alike 32/6.4 has 75.4, thick 40/6.25 has 112.6 mm²/s."""
    assert closest((32.0, 5.4), 20.0, alike=(32.0, 6.4), thick=(40.0, 6.25)) == "alike"


def test_the_closest_oil_is_so_at_the_working_temperature_and_not_at_40_degrees() -> None:
    """At -5 °C the steep oil, at 40 °C within 1 % of the wanted one, is 231 mm²/s against 110; the flat one 119."""
    steep, flat = (15.1, 2.9), (16.0, 4.0)
    cold = {name: viscosity_at(*kv, -5.0) for name, kv in (("steep", steep), ("flat", flat))}
    wanted = viscosity_at(15.0, 3.8, -5.0)
    assert abs(math.log(cold["flat"] / wanted)) < abs(math.log(cold["steep"] / wanted))
    assert closest((15.0, 3.8), -5.0, steep=steep, flat=flat) == "flat"
    assert closest((15.0, 3.8), 40.0, steep=steep, flat=flat) == "steep"


def test_half_as_thick_is_further_than_nine_tenths_thicker() -> None:
    """Half is a factor of 2, nine tenths more one of 1.9: as shares, -50 % seemed nearer than +90 %."""
    assert closest((30.0, 5.0), 40.0, thin=(15.0, 3.4), thick=(57.0, 7.4)) == "thick"


def test_an_oil_out_of_range_at_the_working_temperature_is_never_closest() -> None:
    """At 150 °C the thin oil leaves ASTM D341 (below 2 mm²/s); nothing is said of it there."""
    found = near_oils(
        OilAtTwoTemperatures(46.0, 6.8), [NamedOil("thin", 15.0, 3.2), NamedOil("thick", 100.0, 11.0)], 150.0
    )
    assert [near.named.name for near in found] == ["thick", "thin"]
    assert found[1].at_temperature_share is None


def test_the_answer_says_at_which_temperature_an_oil_is_closest() -> None:
    answer = ask(at=0.0)
    assert "at 0 °C" in answer.words[1]
    assert answer.tables[0].title == "Closest by viscosity at 0 °C"
