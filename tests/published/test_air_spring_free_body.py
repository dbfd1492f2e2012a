"""The air spring against a free body of its own (`free_body.py`), which shares no line with the code under test.

A hundredth of a newton, and what follows from it, is the finite difference's own error.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from specs.physics.air_spring import (
    ChamberState,
    ContradictoryReading,
    after_strokes,
    axle_load_along_fork,
    bled,
    emptied,
    equalised,
    force,
    friction_from_rests,
    greatest_moved_fraction,
    healthy_band,
    infer_from_earlier_pressure,
    infer_from_reading,
    load_at_sag,
    loss_without_repumping,
    lower_leg_absolute_pressure,
    lower_leg_effect,
    pressure_for_sag,
    pressure_for_sag_by_rule,
    pressure_to_reach_port,
    pressures_at,
    pull_after_filling,
    pull_at_pressure,
    pull_to_port,
    pump_and_cycle,
    rest_band,
    rounds_to_settle,
    settled_pressure,
    stiffness,
    stuck,
)
from specs.physics.air_spring.rest import _isothermal_root
from tests.published.free_body import AMBIENT, Drawing, Gases, level, rest

PSI = 6894.757293168361  # NIST SP 811, appendix B.8
FORK = Drawing()
SPRING = FORK.spring()
FORKS = [FORK, Drawing(air_shaft_m=0.014, damper_shaft_m=0.018, port_travel_m=0.02, friction_n=31.0)]
SHARES = [(0.0, 1.0), (0.25, 1.0), (0.1, 1.3), (0.4, 1.4)]  # moved, exponent


def state_of(drawing: Drawing, moved: float, exponent: float, gauge: float = 80 * PSI) -> ChamberState:
    return stuck(drawing.spring(), gauge, moved, exponent=exponent)


@pytest.mark.parametrize("drawing", FORKS)
@pytest.mark.parametrize(("moved", "exponent"), SHARES)
def test_force_pressures_and_stiffness(drawing: Drawing, moved: float, exponent: float) -> None:
    gases, state = level(drawing, 80 * PSI, moved=moved, exponent=exponent), state_of(drawing, moved, exponent)
    for x in (0.001, 0.0075, 0.05, 0.11, 0.159):
        assert force(drawing.spring(), state, x) == pytest.approx(gases.push(drawing, x), abs=0.01)
        at = pressures_at(drawing.spring(), state, x)
        assert [at.positive_pa, at.negative_pa, at.lower_leg_pa] == pytest.approx(
            [p - AMBIENT for p in gases.pressures(drawing, x)], abs=1e-3
        )
        slope = (gases.push(drawing, x + 1e-4) - gases.push(drawing, x - 1e-4)) / 2e-4
        assert stiffness(drawing.spring(), state, x) == pytest.approx(slope, rel=1e-3)


@pytest.mark.parametrize("drawing", FORKS)
@pytest.mark.parametrize(("moved", "exponent"), SHARES)
@pytest.mark.parametrize("load", [-40.0, 0.0, 600.0])
def test_rest_under_a_load_and_hanging(drawing: Drawing, moved: float, exponent: float, load: float) -> None:
    gases = level(drawing, 80 * PSI, moved=moved, exponent=exponent)
    expected = [rest(drawing, gases, load + held) for held in (-drawing.friction_n, 0.0, drawing.friction_n)]
    found = rest_band(drawing.spring(), state_of(drawing, moved, exponent), load)
    assert [found.low, found.mid, found.high] == pytest.approx(expected, abs=2e-6)


def test_what_hangs_moves_a_healthy_rest_by_millimetres() -> None:
    """30 N of wheel, lower legs and brake: from some 4 mm to some 2; the rule's millimetre widens each way."""
    gases = level(FORK, 80 * PSI)
    bare, hung = rest(FORK, gases, 0.0), rest(FORK, gases, -30.0)
    assert bare - hung > 0.001
    found = healthy_band(SPRING, 80 * PSI, hanging_n=30.0)
    assert found.mid == pytest.approx(hung, abs=2e-6)
    assert found.high == pytest.approx(rest(FORK, gases, FORK.friction_n - 30.0) + 0.001, abs=2e-6)
    assert found.low == pytest.approx(max(0.0, rest(FORK, gases, -FORK.friction_n - 30.0) - 0.001), abs=2e-6)


@pytest.mark.parametrize("drawing", FORKS)
@pytest.mark.parametrize("depth", [0.048, 0.07, 0.09])
@pytest.mark.parametrize("hanging", [0.0, 30.0])
def test_share_moved_from_the_earlier_pressure(drawing: Drawing, depth: float, hanging: float) -> None:
    """The share at which the free body balances what hangs on it and what friction holds, searched."""

    def share(held: float) -> float:
        return float(
            brentq(
                lambda moved: level(drawing, 80 * PSI, moved=moved).push(drawing, depth) - held, 0.0, 1.0, xtol=1e-12
            )
        )

    friction = drawing.friction_n
    found = infer_from_earlier_pressure(drawing.spring(), 80 * PSI, depth, hanging_n=hanging)
    expected = [share(held - hanging) for held in (friction, 0.0, -friction)]
    assert [found.moved_fraction.low, found.moved_fraction.mid, found.moved_fraction.high] == pytest.approx(
        expected, abs=1e-5
    )
    gauge = [p - AMBIENT for p in level(drawing, 80 * PSI, moved=expected[1]).pressures(drawing, depth)]
    assert [found.positive_pa.mid, found.negative_pa.mid] == pytest.approx(gauge[:2], rel=1e-4)
    low, high = (level(drawing, 80 * PSI, moved=part).pressures(drawing, depth) for part in (expected[0], expected[2]))
    assert [found.negative_pa.low, found.negative_pa.high] == pytest.approx(
        [low[1] - AMBIENT, high[1] - AMBIENT], rel=1e-4
    )
    assert [found.positive_pa.low, found.positive_pa.high] == pytest.approx(
        [high[0] - AMBIENT, low[0] - AMBIENT], rel=1e-4
    )


def held_at(drawing: Drawing, depth: float, reading: float, held: float) -> Gases:
    """The gases of a fork that reads so much at that depth and balances there, the negative one searched."""
    positive_m3, _, _ = drawing.volumes(depth)
    positive, legs = (reading + AMBIENT) * positive_m3, AMBIENT * drawing.volumes(0.0)[2]
    negative = brentq(lambda amount: Gases(positive, amount, legs).push(drawing, depth) - held, 1e-3, 1e4, xtol=1e-10)
    return Gases(positive, float(negative), legs)


@pytest.mark.parametrize("drawing", FORKS)
@pytest.mark.parametrize("depth", [0.048, 0.07, 0.09])
@pytest.mark.parametrize("hanging", [0.0, 30.0])
def test_share_moved_from_a_reading(drawing: Drawing, depth: float, hanging: float) -> None:
    found = infer_from_reading(drawing.spring(), 78 * PSI, depth, hanging_n=hanging)
    positive_m3, negative_m3 = drawing.meeting()
    friction = drawing.friction_n
    for held, share, shared_pa, negative_pa in (
        (friction, found.moved_fraction.low, found.equalised_pa.low, found.negative_pa.low),
        (0.0, found.moved_fraction.mid, found.equalised_pa.mid, found.negative_pa.mid),
        (-friction, found.moved_fraction.high, found.equalised_pa.high, found.negative_pa.high),
    ):
        gases = held_at(drawing, depth, 78 * PSI, held - hanging)
        shared = (gases.positive + gases.negative) / (positive_m3 + negative_m3)
        assert shared_pa == pytest.approx(shared - AMBIENT, rel=1e-5)
        assert share == pytest.approx(1 - gases.positive / (shared * positive_m3), abs=1e-5)
        assert negative_pa == pytest.approx(gases.pressures(drawing, depth)[1] - AMBIENT, rel=1e-5)
    assert found.positive_pa.low == found.positive_pa.high == 78 * PSI


def found_state(depth: float) -> ChamberState:
    found = infer_from_reading(SPRING, 78 * PSI, depth)
    return stuck(SPRING, found.equalised_pa.mid, found.moved_fraction.mid)


@pytest.mark.parametrize("depth", [0.06, 0.07, 0.09])
@pytest.mark.parametrize("pressure", [0.0, 100 * PSI, FORK.max_pressure_pa])
@pytest.mark.parametrize("hanging", [0.0, 30.0])
def test_pull_at_a_held_pressure(depth: float, pressure: float, hanging: float) -> None:
    gases = held_at(FORK, depth, 78 * PSI, 0.0)
    kept_up = Gases((pressure + AMBIENT) * FORK.meeting()[0], gases.negative, gases.legs)
    pull = pull_at_pressure(SPRING, found_state(depth), pressure, hanging_n=hanging)
    outside = -kept_up.push(FORK, FORK.port_travel_m) - hanging
    assert [pull.low, pull.mid, pull.high] == pytest.approx([outside - 8, outside, outside + 8], abs=0.02)


@pytest.mark.parametrize("depth", [0.06, 0.07, 0.09])
def test_pull_after_filling_is_the_greatest_on_the_way(depth: float) -> None:
    """SciPy looks for the greatest pull between the depth and the port; the gas filled in keeps its P V."""
    gases = held_at(FORK, depth, 78 * PSI, 0.0)
    filled = Gases((FORK.max_pressure_pa + AMBIENT) * FORK.volumes(depth)[0], gases.negative, gases.legs)
    greatest = minimize_scalar(
        lambda x: filled.push(FORK, x), bounds=(FORK.port_travel_m, depth), method="bounded", options={"xatol": 1e-9}
    )
    pull = pull_after_filling(SPRING, found_state(depth), depth, FORK.max_pressure_pa)
    assert pull.mid == pytest.approx(-greatest.fun, abs=0.02)
    assert pull.high - pull.low == pytest.approx(16.0)
    assert pull_after_filling(SPRING, found_state(depth), FORK.port_travel_m, FORK.max_pressure_pa).high == 0.0


def test_the_stuck_fork_in_numbers() -> None:
    """By hand alone 757 N; by pressure alone 189 psi; at 165 psi a pull of 135 N: from the free body."""
    gases = held_at(FORK, 0.07, 78 * PSI, 0.0)
    alone_n = FORK.friction_n - gases.push(FORK, FORK.port_travel_m)
    needed_pa = brentq(
        lambda p: (
            Gases((p + AMBIENT) * FORK.meeting()[0], gases.negative, gases.legs).push(FORK, FORK.port_travel_m)
            - FORK.friction_n
        ),
        0.0,
        400 * PSI,
    )
    assert alone_n == pytest.approx(757, abs=1)
    assert needed_pa / PSI == pytest.approx(189.1, abs=0.1)
    assert pull_to_port(SPRING, found_state(0.07), 0.07) == pytest.approx(alone_n, abs=0.02)
    assert pull_to_port(SPRING, found_state(0.07), FORK.port_travel_m) == 0.0
    assert pressure_to_reach_port(SPRING, found_state(0.07), 0.07) == pytest.approx(needed_pa, rel=1e-5)
    assert pull_at_pressure(SPRING, found_state(0.07), FORK.max_pressure_pa).high == pytest.approx(135, abs=1)


@pytest.mark.parametrize("depth", [0.048, 0.07, 0.09])
@pytest.mark.parametrize("hanging", [0.0, 40.0])
def test_emptied_while_stuck(depth: float, hanging: float) -> None:
    """The positive chamber at the air around whatever the travel: only the other two gases store energy."""
    gases = held_at(FORK, depth, 78 * PSI, 0.0)

    def push(x: float) -> float:
        open_to_air = AMBIENT * FORK.volumes(x)[0]
        return Gases(open_to_air, gases.negative, gases.legs).push(FORK, x)

    def stop(held: float) -> float:
        if push(FORK.travel_m) <= held:
            return FORK.travel_m
        return float(brentq(lambda x: push(x) - held, 0.0, FORK.travel_m, xtol=1e-12))

    found = emptied(SPRING, found_state(depth), hanging_n=hanging)
    expected = [stop(held - hanging) for held in (-8.0, 0.0, 8.0)]
    assert [found.rest_travel_m.low, found.rest_travel_m.mid, found.rest_travel_m.high] == pytest.approx(
        expected, abs=2e-6
    )
    for pressure, travel in ((found.negative_pa.low, expected[2]), (found.negative_pa.high, expected[0])):
        assert pressure == pytest.approx(gases.negative / FORK.volumes(travel)[1] - AMBIENT, rel=1e-4)


@pytest.mark.parametrize("vented_at", [0.0, 0.0075, 0.05, 0.16])
def test_strokes_with_the_core_let_go(vented_at: float) -> None:
    """Moles by the ideal gas law, stroke by stroke (CODATA's R at 20 °C): what the core lets out, what evens out."""
    molar_j = 8.314462618 * 293.15
    positive_m3, negative_m3 = FORK.meeting()
    in_negative = level(FORK, 80 * PSI, moved=0.25).negative / molar_j
    expected = []
    for _ in range(4):
        left_in_positive = AMBIENT * FORK.volumes(vented_at)[0] / molar_j
        total = left_in_positive + in_negative
        expected.append(total * molar_j / (positive_m3 + negative_m3) - AMBIENT)
        in_negative = total * negative_m3 / (positive_m3 + negative_m3)
    assert after_strokes(SPRING, stuck(SPRING, 80 * PSI, 0.25), 4, vent_travel_m=vented_at) == pytest.approx(
        expected, abs=0.1
    )
    assert after_strokes(SPRING, stuck(SPRING, 80 * PSI, 0.25), 0, vent_travel_m=vented_at) == []


def test_a_level_fork_let_go_at_the_port_keeps_some_for_one_stroke_only() -> None:
    """Vented where the chambers meet nothing is left; vented at full length, what the negative one held evens out."""
    strokes = after_strokes(SPRING, equalised(SPRING, 80 * PSI), 12, vent_travel_m=0.0)
    assert strokes[0] > 10 * PSI
    assert strokes[-1] < 1 * PSI
    assert all(later < earlier for earlier, later in pairwise(strokes))


@pytest.mark.parametrize("sag", [0.02, 0.035, 0.05])
def test_pressure_for_a_sag(sag: float) -> None:
    searched = brentq(lambda gauge: level(FORK, gauge).push(FORK, sag) - 600.0, 1e4, 30e5, xtol=1e-3)
    assert pressure_for_sag(SPRING, 600.0, sag) == pytest.approx(searched, rel=1e-5)
    assert load_at_sag(SPRING, searched, sag) == pytest.approx(600.0, abs=0.02)


@pytest.mark.parametrize(("measured", "wanted"), [(0.045, 0.035), (0.03, 0.04), (0.05, 0.045)])
def test_the_rule_of_thumb_goes_where_the_free_body_goes(measured: float, wanted: float) -> None:
    """Under the same load: more pressure for less sag and less for more, within an eighth of what this fork takes."""
    load_n = level(FORK, 6e5).push(FORK, measured)
    searched = brentq(lambda gauge: level(FORK, gauge).push(FORK, wanted) - load_n, 1e4, 30e5, xtol=1e-3)
    by_rule = pressure_for_sag_by_rule(6e5, measured, wanted)
    assert (by_rule > 6e5) is (searched > 6e5)
    assert by_rule == pytest.approx(searched, rel=0.125)


@pytest.mark.parametrize("drawing", FORKS)
def test_filling_round_by_round(drawing: Drawing) -> None:
    """Moles again: pumped at full extension, evened out at the port; the last round reads what was set."""
    positive_m3, negative_m3 = drawing.meeting()
    in_negative = AMBIENT * drawing.volumes(0.0)[1]
    expected = []
    for _ in range(30):
        total = (80 * PSI + AMBIENT) * drawing.volumes(0.0)[0] + in_negative
        shared = total / (positive_m3 + negative_m3)
        expected.append(shared - AMBIENT)
        in_negative = shared * negative_m3
    rounds = pump_and_cycle(drawing.spring(), 80 * PSI, 30)
    assert rounds == pytest.approx(expected, rel=1e-9)
    assert settled_pressure(drawing.spring(), 80 * PSI) == pytest.approx(expected[-1], rel=1e-6)
    lost = loss_without_repumping(drawing.spring(), 80 * PSI)
    assert lost == pytest.approx(expected[-1] - expected[0], rel=1e-6)
    for tolerance in (2 * PSI, 0.1 * PSI, 0.001 * PSI):
        enough = next(place for place, gauge in enumerate(expected, 1) if expected[-1] - gauge <= tolerance)
        assert rounds_to_settle(drawing.spring(), 80 * PSI, tolerance) == enough


def test_air_shut_in_the_lower_legs() -> None:
    """Charles and Boyle: shut part-way at 1500 m and 30 °C, now at full extension at 5 °C."""
    moles = 84556.0 * FORK.volumes(0.02)[2] / (8.314462618 * 303.15)
    expected = moles * 8.314462618 * 278.15 / FORK.volumes(0.0)[2]
    found = lower_leg_absolute_pressure(SPRING, 84556.0, closed_travel_m=0.02, closed_k=303.15, now_k=278.15)
    assert found == pytest.approx(expected, rel=1e-12)
    opened = bled(SPRING, equalised(SPRING, 80 * PSI, lower_leg_pa=expected), 0.03)
    at = pressures_at(SPRING, opened, 0.03)
    assert at.lower_leg_pa == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("drawing", FORKS)
def test_most_that_a_leak_can_move(drawing: Drawing) -> None:
    """At full travel, where the positive chamber is smallest, both even out: what it then holds less, of its start."""
    positive_m3, negative_m3, _ = drawing.volumes(drawing.travel_m)
    at_port, at_port_negative = drawing.meeting()
    total = at_port + at_port_negative  # amounts at one pressure go as volumes
    kept = total * positive_m3 / (positive_m3 + negative_m3)
    assert greatest_moved_fraction(drawing.spring()) == pytest.approx(max(0.0, 1 - kept / at_port), rel=1e-9)


def test_what_bleeding_the_legs_changes() -> None:
    """Shut at 1500 m, opened at sea level: the partial vacuum holds the fork down until both legs are bled."""
    gases = level(FORK, 80 * PSI)
    shut = Gases(gases.positive, gases.negative, 84559.7 * FORK.volumes(0.0)[2])
    found = lower_leg_effect(SPRING, 80 * PSI, closed_ambient_pa=84559.7, ambient_pa=AMBIENT, load_n=0.0)
    assert found.lower_leg_pa == pytest.approx(84559.7 - AMBIENT)
    entering = (FORK.volumes(0.0)[2] - FORK.volumes(0.1)[2]) / 0.1
    assert found.force_at_top_out_n == pytest.approx((84559.7 - AMBIENT) * entering, rel=1e-9)
    assert found.force_at_top_out_n < 0.0
    before, after = rest(FORK, shut, 0.0), rest(FORK, gases, 0.0)
    assert (found.rest_before.mid, found.rest_after_bleeding.mid) == pytest.approx((before, after), abs=2e-6)
    assert found.rest_before.mid > found.rest_after_bleeding.mid


@pytest.mark.parametrize("head_angle", [62.0, 64.5, 68.0])
def test_an_upright_load_along_the_fork(head_angle: float) -> None:
    """The load's vector onto the steering axis (NumPy's dot product), the angle from the horizontal."""
    axis = np.array([np.cos(np.radians(head_angle)), np.sin(np.radians(head_angle))])
    assert axle_load_along_fork(600.0, head_angle) == pytest.approx(float(np.array([0.0, 600.0]) @ axis))


@pytest.mark.parametrize("drawing", FORKS)
@pytest.mark.parametrize("moved", [0.0, 0.25, 0.6])
@pytest.mark.parametrize("held", [-40.0, 25.0, 600.0])
def test_the_closed_form_finds_the_rest_by_itself(drawing: Drawing, moved: float, held: float) -> None:
    """Without the search that stands in where rounding spoils it: that would hide a wrong coefficient of the cubic."""
    expected = rest(drawing, level(drawing, 80 * PSI, moved=moved), held)
    if 0.0 < expected < drawing.travel_m:
        found = _isothermal_root(drawing.spring(), state_of(drawing, moved, 1.0), held)
        assert found == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("drawing", FORKS)
@pytest.mark.parametrize("moved", [0.15, 0.3])
@pytest.mark.parametrize("hanging", [0.0, 30.0])
def test_friction_from_the_rests_after_a_push_and_a_pull(drawing: Drawing, moved: float, hanging: float) -> None:
    """The free body held by its friction gives both rests, searched; they give the friction back, with any rule."""
    gases = level(drawing, 80 * PSI, moved=moved)
    pushed, pulled = (rest(drawing, gases, held - hanging) for held in (drawing.friction_n, -drawing.friction_n))
    assert pushed > pulled > 0.0  # no end stop holds it
    state = state_of(drawing, moved, 1.0)
    exact = friction_from_rests(drawing.spring(), state, pushed, pulled, reading_m=0.0)
    newtons = exact.newtons
    assert (newtons.low, newtons.mid, newtons.high) == pytest.approx((drawing.friction_n,) * 3, abs=0.01)
    assert not exact.is_floor

    read = friction_from_rests(drawing.spring(), state, pushed, pulled, reading_m=0.0005)
    nearer = (gases.push(drawing, pushed - 5e-4) - gases.push(drawing, pulled + 5e-4)) / 2
    wider = (gases.push(drawing, pushed + 5e-4) - gases.push(drawing, pulled - 5e-4)) / 2
    assert (read.newtons.low, read.newtons.high) == pytest.approx((max(0.0, nearer), wider), abs=0.01)


def test_a_rest_against_the_end_stop_gives_only_the_least_that_friction_can_be() -> None:
    drawing = replace(FORK, friction_n=60.0)
    gases = level(drawing, 80 * PSI)
    pushed, pulled = (rest(drawing, gases, held) for held in (60.0, -60.0))
    assert pulled == 0.0
    found = friction_from_rests(drawing.spring(), state_of(drawing, 0.0, 1.0), pushed, pulled, reading_m=0.0)
    assert found.is_floor
    assert found.newtons.mid < 60.0


def test_rests_that_contradict_each_other_name_the_likely_slip() -> None:
    with pytest.raises(ContradictoryReading, match="shallower") as refused:
        friction_from_rests(SPRING, state_of(FORK, 0.2, 1.0), 0.040, 0.0412)
    assert (refused.value.field, refused.value.likely_slip) == ("pushed_m", "Were the two readings swapped?")
    assert friction_from_rests(SPRING, state_of(FORK, 0.2, 1.0), 0.040, 0.0408).newtons.mid == 0.0  # within the rule
