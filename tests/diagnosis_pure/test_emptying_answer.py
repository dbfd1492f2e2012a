"""What letting the air out leaves behind, in words that agree with the physics (checked in tests/published)."""

from __future__ import annotations

from diagnosis.emptying_answer import what_stays
from diagnosis.hanging import NOTHING_HANGS
from diagnosis.spring_answer import answer_from_readings
from specs.physics.air_spring import AirSpring, after_strokes, emptied, pull_at_pressure
from specs.units import from_si
from tests.diagnosis_pure.test_spring_answer import METRIC, PSI, SPRING
from tests.known import known

PSI_SHOP = (METRIC | {"pressure": "psi"}).__getitem__


def stays(rest_mm: float, reading_psi: float, spring: AirSpring = SPRING):  # type: ignore[no-untyped-def]
    answer = answer_from_readings(
        spring, rest_travel_m=rest_mm / 1000, reading_pa=reading_psi * PSI, unit_for=PSI_SHOP, hanging=NOTHING_HANGS
    )
    return answer, known(what_stays(answer, NOTHING_HANGS, PSI_SHOP))


def test_a_fork_stuck_down_sinks_and_keeps_what_the_physics_says() -> None:
    answer, said = stays(70, 78)
    left = emptied(SPRING, known(answer.state)).negative_pa.mid
    assert f"keeps {round(left / PSI)} psi (" in said.headline
    assert f"sinks to {round(from_si(emptied(SPRING, known(answer.state)).rest_travel_m.mid, 'length', 'mm'))} mm" in (
        said.headline
    )
    rows = {row.label: row for row in said.numbers}
    low, high = (float(part.split()[0]) for part in rows["Left in the negative chamber"].band.split(" to "))
    assert low < round(left / PSI) < high  # the range that friction and the readings leave


def test_strokes_that_let_go_of_the_core_first_are_counted_until_nothing_is_left() -> None:
    answer, said = stays(70, 78)
    state = known(answer.state)
    first, second, *_ = after_strokes(SPRING, state, 4, vent_travel_m=emptied(SPRING, state).rest_travel_m.mid)
    assert second < 0 < first
    strokes = next(sentence for sentence in said.sentences if "strokes" in sentence)
    assert f"{round(first / PSI)} psi after 1, none that a gauge shows after 2" in strokes


def test_what_one_person_cannot_draw_out_is_not_opened() -> None:
    answer, said = stays(70, 78)
    assert pull_at_pressure(SPRING, known(answer.state), 0.0).mid > 500
    last = said.sentences[-1]
    assert "more than one person can pull" in last
    assert "do not open the air leg" in last


def test_a_healthy_fork_keeps_at_most_that_and_one_person_draws_it_out() -> None:
    _, said = stays(4, 40)
    assert "keeps at most" in said.headline
    assert any("held open until the fork is drawn out through its port" in sentence for sentence in said.sentences)


def test_readings_that_contradict_each_other_give_no_answer() -> None:
    answer = answer_from_readings(SPRING, rest_travel_m=0.0, reading_pa=80 * PSI, unit_for=PSI_SHOP)
    assert what_stays(answer, NOTHING_HANGS, PSI_SHOP) is None
