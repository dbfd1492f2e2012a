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
    moved_share_in_words,
)
from specs.physics.air_spring import AirSpring, ImpossibleValue, pull_at_pressure, pull_to_port, rest_band, stuck

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


def test_what_neither_hand_nor_pressure_frees_both_together_do() -> None:
    """70 mm in, 78 psi: 77 kg by hand alone, 188 psi by pressure alone, but 14 kg at the maximum of 165 psi."""
    answer = answered(70, reading_psi=78)

    assert answer.verdict == Verdict.STUCK_BOTH_FREE
    assert "One person can free it at its maximum of 165 psi with about 14 kg of pull." in answer.headline
    assert "lowers off" not in answer.headline
    said = " ".join(answer.sentences)
    assert "more than one person can pull" in said
    assert "Pressure alone will not free it: that would need about 189 psi" in said
    assert "as heavy as lifting 14 kg, besides: one person can do that" in said
    assert "top up to 165 psi where it stands, never above, and pull again" in said
    assert said.rstrip().endswith("take the lowers off.")  # what to do if it does not come
    assert "at its maximum of 165 psi one person frees it with about 14 kg of pull" in answer.for_customer
    assert "If that does not do it" in answer.for_customer
    assert any("common practice, no published source" in words for words in answer.assumed)


def test_deeply_stuck_fork_needs_its_lowers_off() -> None:
    answer = answered(110, reading_psi=90)

    assert answer.verdict == Verdict.STUCK_LOWERS_OFF
    assert "Let all the air out, prove that it is out, and take the lowers off." in answer.headline
    assert sum("more than one person can pull" in sentence for sentence in answer.sentences) == 2
    assert any("Pressure alone will not free it" in sentence and "165 psi" in sentence for sentence in answer.sentences)
    assert "the lower legs have to come off" in answer.for_customer


@given(rest_mm=st.floats(12, 140), reading_psi=st.floats(40, 140))
def test_the_cheapest_way_that_is_enough_comes_first(rest_mm: float, reading_psi: float) -> None:
    """By hand, by pressure, by both, apart: each only where every one before it is not enough."""
    try:
        answer = answered(rest_mm, reading_psi=reading_psi)
    except ImpossibleValue:
        assume(False)
    assume(answer.is_stuck and answer.state is not None and answer.inference is not None)
    assert answer.state is not None
    alone = pull_to_port(SPRING, answer.state, rest_mm / 1000) <= ONE_PERSON_N
    at_maximum_n = pull_at_pressure(SPRING, answer.state, SPRING.max_pressure_pa).high
    expected = (
        Verdict.STUCK_PULLS_FREE
        if alone
        else Verdict.STUCK_PRESSURE_FREES
        if at_maximum_n <= 0
        else Verdict.STUCK_BOTH_FREE
        if at_maximum_n <= ONE_PERSON_N
        else Verdict.STUCK_LOWERS_OFF
    )
    assert answer.verdict == expected


def test_less_pressure_can_be_freed_by_pressure() -> None:
    answer = answered(70, reading_psi=55)

    assert answer.verdict == Verdict.STUCK_PRESSURE_FREES
    assert "besides" not in " ".join(answer.sentences)
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
    assert moved_share_in_words(share) == words


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
