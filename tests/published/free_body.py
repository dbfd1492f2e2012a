"""A fork as a free body, from outside parts only: Boyle's law or P V^n, energies by finite differences, SciPy's roots.

Nothing here comes from the code under test: areas and volumes are worked out from the dimensions of a drawing, a force
is the slope of the gases' energy and of the work of the air around, and unknowns are searched instead of solved.
No published value exists for such a spring; Boyle's law and virtual work are in any textbook of mechanics.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

from scipy.optimize import brentq

from specs.physics.air_spring import AirSpring

AMBIENT = 101325.0
STEP = 1e-6


@dataclass(frozen=True)
class Drawing:
    """The dimensions of an invented fork, m, m³, N and Pa, named as the program names them."""

    travel_m: float = 0.160
    piston_bore_m: float = 0.0322
    air_shaft_m: float = 0.009
    damper_shaft_m: float = 0.010
    stanchion_m: float = 0.035
    positive_volume_m3: float = 205e-6
    negative_volume_m3: float = 40e-6
    lower_leg_volume_m3: float = 627e-6
    port_travel_m: float = 0.0075
    friction_n: float = 8.0
    max_pressure_pa: float = 165 * 6894.757293168361  # psi: NIST SP 811, appendix B.8

    def spring(self) -> AirSpring:
        """The same fork, as the program takes it."""
        return AirSpring(**asdict(self))

    def volumes(self, x: float) -> tuple[float, float, float]:
        """Positive, negative and lower-leg air (m³) at a travel: what moves in takes the room of its disc."""

        def disc(diameter: float) -> float:
            return math.pi * (diameter / 2) ** 2

        bore, shaft = disc(self.piston_bore_m), disc(self.air_shaft_m)
        entering = 2 * disc(self.stanchion_m) - shaft - disc(self.damper_shaft_m)
        return (
            self.positive_volume_m3 - bore * x,
            self.negative_volume_m3 + (bore - shaft) * x,
            self.lower_leg_volume_m3 - entering * x,
        )

    def meeting(self) -> tuple[float, float]:
        """Positive and negative chamber (m³) where they meet."""
        return self.volumes(self.port_travel_m)[:2]


@dataclass(frozen=True)
class Gases:
    """What stays in each chamber: P V^n (absolute) of the positive, the negative and the legs' air."""

    positive: float
    negative: float
    legs: float
    exponent: float = 1.0
    ambient: float = AMBIENT

    def pressures(self, drawing: Drawing, x: float) -> tuple[float, float, float]:
        """Absolute pressures (Pa) at a travel."""
        kept = (self.positive, self.negative, self.legs)
        p = [amount / volume**self.exponent for amount, volume in zip(kept, drawing.volumes(x), strict=True)]
        return p[0], p[1], p[2]

    def energy(self, drawing: Drawing, x: float) -> float:
        """Energy (J) of the gases and of the air around the fork, up to a constant."""
        total = 0.0
        for amount, volume in zip((self.positive, self.negative, self.legs), drawing.volumes(x), strict=True):
            if self.exponent == 1.0:
                total -= amount * math.log(volume)
            else:
                total += amount * volume ** (1 - self.exponent) / (self.exponent - 1)
            total += self.ambient * volume
        return total

    def push(self, drawing: Drawing, x: float) -> float:
        """Force (N) that pushes the fork out: the slope of the energy, by central difference."""
        return (self.energy(drawing, x + STEP) - self.energy(drawing, x - STEP)) / (2 * STEP)


def level(
    drawing: Drawing, gauge: float, *, moved: float = 0.0, exponent: float = 1.0, ambient: float = AMBIENT
) -> Gases:
    """Both chambers once at `gauge` where they meet, a part of the positive gas since passed over; legs shut at top."""
    positive_m3, negative_m3 = drawing.meeting()
    shared = gauge + ambient
    positive = shared * (1 - moved)
    negative = shared + shared * moved * positive_m3 / negative_m3
    legs_m3 = drawing.volumes(0.0)[2]
    return Gases(
        positive * positive_m3**exponent,
        negative * negative_m3**exponent,
        ambient * legs_m3**exponent,
        exponent,
        ambient,
    )


def rest(drawing: Drawing, gases: Gases, held: float) -> float:
    """The travel where the push comes to a force, searched; an end of the stroke where it never does."""
    if gases.push(drawing, 0.0) >= held:
        return 0.0
    if gases.push(drawing, drawing.travel_m) <= held:
        return drawing.travel_m
    return float(brentq(lambda x: gases.push(drawing, x) - held, 0.0, drawing.travel_m, xtol=1e-12))
