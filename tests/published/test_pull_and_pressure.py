"""The pull left at a pressure against a free body of its own: SciPy's root, energies by finite differences.

No published value exists, so the check is built from outside parts: Boyle's law, the gas energy P V ln(V0/V) of each
chamber and the work of the ambient, differentiated numerically; areas and volumes from the input dimensions alone.
The fork is invented: 70 mm in, 78 psi read, 165 psi its maximum.
"""

import math

import pytest
from scipy.optimize import brentq, minimize_scalar

from specs.physics.air_spring import (
    AirSpring,
    ChamberState,
    infer_from_reading,
    pull_after_filling,
    pull_at_pressure,
    stuck,
)

PSI = 6894.757293168361  # NIST SP 811, appendix B.8
AMBIENT = 101325.0
BORE, SHAFT, DAMPER, STANCHION = 0.0322, 0.009, 0.010, 0.035
V_POS, V_NEG, V_LEGS = 205e-6, 40e-6, 627e-6
PORT, FRICTION, MAXIMUM = 0.0075, 8.0, 165 * PSI
STEP = 1e-6

SPRING = AirSpring(
    travel_m=0.160,
    piston_bore_m=BORE,
    air_shaft_m=SHAFT,
    damper_shaft_m=DAMPER,
    stanchion_m=STANCHION,
    positive_volume_m3=V_POS,
    negative_volume_m3=V_NEG,
    lower_leg_volume_m3=V_LEGS,
    port_travel_m=PORT,
    friction_n=FRICTION,
    max_pressure_pa=MAXIMUM,
)


def _disc(diameter: float) -> float:
    return math.pi * diameter * diameter / 4


def volumes(x: float) -> tuple[float, float, float]:
    """Positive, negative and lower-leg volume at a travel, from the drawing's dimensions."""
    return (
        V_POS - _disc(BORE) * x,
        V_NEG + (_disc(BORE) - _disc(SHAFT)) * x,
        V_LEGS - (2 * _disc(STANCHION) - _disc(SHAFT) - _disc(DAMPER)) * x,
    )


def energy(amounts: tuple[float, ...], x: float) -> float:
    """Free energy of gases of constant P V (J) and of the air around, up to a constant."""
    held = zip(amounts, volumes(x), strict=True)
    return sum(-amount * math.log(volume) + AMBIENT * volume for amount, volume in held)


def push_out(amounts: tuple[float, ...], x: float) -> float:
    """Force that pushes the fork out: the energy's slope by travel, by central difference."""
    return (energy(amounts, x + STEP) - energy(amounts, x - STEP)) / (2 * STEP)


def amounts_at(depth: float, reading: float) -> tuple[float, float, float]:
    """P V of each gas from the reading and the balance at rest, by SciPy's root; legs closed at full extension."""
    positive, legs = (reading + AMBIENT) * volumes(depth)[0], AMBIENT * V_LEGS
    negative = brentq(lambda amount: push_out((positive, amount, legs), depth), 1e-3, 1e4, xtol=1e-10)
    return positive, float(negative), legs


def found_state(depth: float) -> ChamberState:
    found = infer_from_reading(SPRING, 78 * PSI, depth)
    return stuck(SPRING, found.equalised_pa.mid, found.moved_fraction.mid)


@pytest.mark.parametrize("depth", [0.06, 0.07, 0.09])
@pytest.mark.parametrize("held", [0.0, 100 * PSI, MAXIMUM])
@pytest.mark.parametrize("hanging", [0.0, 30.0])
def test_pull_at_a_held_pressure(depth: float, held: float, hanging: float) -> None:
    """A hundredth of a newton: the finite difference's own error."""
    _, negative, legs = amounts_at(depth, 78 * PSI)
    kept_up = ((held + AMBIENT) * volumes(PORT)[0], negative, legs)
    pull = pull_at_pressure(SPRING, found_state(depth), held, hanging_n=hanging)
    outside = -push_out(kept_up, PORT) - hanging
    assert [pull.low, pull.mid, pull.high] == pytest.approx([outside - 8, outside, outside + 8], abs=0.01)


@pytest.mark.parametrize("depth", [0.06, 0.07, 0.09])
def test_pull_after_filling_is_the_greatest_on_the_way(depth: float) -> None:
    """SciPy looks for the greatest pull between the depth and the port; the gas filled in keeps its P V."""
    _, negative, legs = amounts_at(depth, 78 * PSI)
    filled = ((MAXIMUM + AMBIENT) * volumes(depth)[0], negative, legs)
    greatest = minimize_scalar(
        lambda x: push_out(filled, x), bounds=(PORT, depth), method="bounded", options={"xatol": 1e-9}
    )
    pull = pull_after_filling(SPRING, found_state(depth), depth, MAXIMUM)
    assert pull.mid == pytest.approx(-greatest.fun, abs=0.02)
    assert pull.high - pull.low == pytest.approx(16.0)


def test_the_flagship_fork_in_numbers() -> None:
    """Alone 757 N; alone 189 psi; at 165 psi a pull of 135 N: from the free body, not from our code."""
    positive, negative, legs = amounts_at(0.07, 78 * PSI)
    alone_n = FRICTION - push_out((positive, negative, legs), PORT)
    needed_pa = brentq(
        lambda p: push_out(((p + AMBIENT) * volumes(PORT)[0], negative, legs), PORT) - FRICTION, 0.0, 400 * PSI
    )
    assert alone_n == pytest.approx(757, abs=1)
    assert needed_pa / PSI == pytest.approx(189.1, abs=0.1)
    assert pull_at_pressure(SPRING, found_state(0.07), MAXIMUM).high == pytest.approx(135, abs=1)
