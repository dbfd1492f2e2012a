"""What the bench is told about a spring: the right verdict, in words that agree with the physics."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from diagnosis.spring_answer import (
    ONE_PERSON_N,
    SpringAnswer,
    Verdict,
    answer_from_readings,
    share_in_words,
)
from specs.physics.air_spring import AirSpring, ImpossibleValue, pull_to_port, rest_band, stuck

PSI = 6894.757293168361
SPRING = AirSpring(
    travel_m=0.160,
    piston_bore_m=0.0322,
    air_shaft_m=0.009,
    damper_shaft_m=0.010,
    stanchion_m=0.035,
    positive_volume_m3=205e-6,
    negative_volume_m3=40e-6,
    lower_leg_volume_m3=627e-6,
    port_travel_m=0.0075,
    friction_n=8.0,
    max_pressure_pa=165 * PSI,
)
METRIC = {"pressure": "bar", "length": "mm", "force": "N", "fraction": "%"}
IMPERIAL = METRIC | {"pressure": "psi", "length": "in", "force": "lbf"}


def answered(rest_mm: float, reading_psi: float | None = None, earlier_psi: float | None = None) -> SpringAnswer:
    return answer_from_readings(
        SPRING,
        rest_travel_m=rest_mm / 1000,
        reading_pa=None if reading_psi is None else reading_psi * PSI,
        earlier_pa=None if earlier_psi is None else earlier_psi * PSI,
        unit_for=(METRIC | {"pressure": "psi"}).__getitem__,
    )


def test_deeply_stuck_fork_needs_its_lowers_off() -> None:
    answer = answered(70, reading_psi=78)

    assert answer.verdict == Verdict.STUCK_LOWERS_OFF
    assert answer.inflating_will_fail
    assert "Let all the air out and take the lowers off." in answer.headline
    assert any("more than one person can pull" in sentence for sentence in answer.sentences)
    assert any("Pressure will not free it" in sentence and "165 psi" in sentence for sentence in answer.sentences)
    assert "the lower legs have to come off" in answer.for_customer


def test_less_pressure_can_be_freed_by_pressure() -> None:
    answer = answered(70, reading_psi=55)

    assert answer.verdict == Verdict.STUCK_PRESSURE_FREES
    assert not answer.inflating_will_fail
    assert any("Never go above the maximum" in sentence for sentence in answer.sentences)


def test_a_little_stuck_is_pulled_free_by_hand() -> None:
    answer = answered(18, reading_psi=70)

    assert answer.verdict == Verdict.STUCK_PULLS_FREE
    assert any("one person can do that" in sentence for sentence in answer.sentences)


@pytest.mark.parametrize("rest_mm", [3, 4, 7.5])
def test_resting_near_the_port_is_healthy(rest_mm: float) -> None:
    answer = answered(rest_mm, reading_psi=80)

    assert answer.verdict == Verdict.HEALTHY
    assert not answer.is_stuck


def test_numbers_carry_the_band_that_friction_leaves() -> None:
    rows = {row.label: row for row in answered(70, reading_psi=78).numbers}

    assert rows["Air moved to the negative side"].value == "29 %"
    assert " to " in rows["Air moved to the negative side"].band
    assert rows["Pressure in the positive chamber"].band == ""  # it was read
    assert rows["Maximum pressure of this fork"].value == "165 psi"


def test_it_says_what_it_assumed() -> None:
    assert "No air was lost since the fork held that pressure." in answered(70, earlier_psi=82).assumed
    assert any("lower legs were closed" in words for words in answered(70, reading_psi=78).assumed)


@pytest.mark.parametrize(
    ("earlier_psi", "words"), [(82, "agrees with the earlier one"), (110, "air was lost"), (60, "was pumped since")]
)
def test_a_reading_is_compared_with_the_earlier_pressure(earlier_psi: float, words: str) -> None:
    answer = answered(70, reading_psi=78, earlier_psi=earlier_psi)

    assert any(words in sentence for sentence in answer.assumed)


def test_readings_that_contradict_each_other_give_no_numbers() -> None:
    answer = answered(0, reading_psi=80)  # pumped and never cycled past the port

    assert answer.verdict == Verdict.CONTRADICTION
    assert answer.numbers == ()
    assert answer.headline == "These readings cannot both be true."
    assert len(answer.sentences) == 2  # the reason and the likely slip


def test_no_pressure_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="reading_pa"):
        answered(70)


def test_a_depth_beyond_the_travel_names_the_field() -> None:
    with pytest.raises(ImpossibleValue) as refused:
        answered(170, reading_psi=78)
    assert refused.value.field == "rest_travel_m"


def test_the_shops_units_are_used() -> None:
    answer = answer_from_readings(SPRING, rest_travel_m=0.07, reading_pa=78 * PSI, unit_for=IMPERIAL.__getitem__)

    assert "2.76 in" in answer.headline
    assert any(" lbf" in sentence for sentence in answer.sentences)


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.01, "almost none"), (0.24, "about a quarter"), (0.34, "about a third"), (0.99, "almost all")],
)
def test_shares_are_said_as_people_say_them(share: float, words: str) -> None:
    assert share_in_words(share) == words


@given(pressure_psi=st.floats(40, 140), moved=st.floats(0.05, 0.6))
def test_a_fork_made_to_stick_is_found_stuck_again(pressure_psi: float, moved: float) -> None:
    """Forwards and back: the state that physics makes is the one that its resting place tells of."""
    state = stuck(SPRING, pressure_psi * PSI, moved)
    rest_m = rest_band(SPRING, state).mid
    assume(0.012 < rest_m < SPRING.travel_m)

    answer = answered(rest_m * 1000, earlier_psi=pressure_psi)

    assert answer.inference is not None
    assert answer.inference.moved_fraction.mid == pytest.approx(moved, abs=1e-6)
    pull_n = pull_to_port(SPRING, state, rest_m)
    assert (answer.verdict == Verdict.STUCK_PULLS_FREE) == (pull_n <= ONE_PERSON_N)
