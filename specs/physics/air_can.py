"""The air can of a shock: a positive chamber, and a negative one around the damper body, level where they meet.

The can slides over the damper body. The piston on the body's end seals in the can's bore: the positive chamber pushes
on the whole bore, the negative one on the ring between bore and body. Ideal gas at one temperature, friction and the
damper's own gas left out. Travel counts from full extension, volumes are those there, pressures are gauge.
"""

from dataclasses import dataclass, fields
from functools import cached_property

from specs.physics.air_spring.geometry import circle_area
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.errors import (
    ImpossibleValue,
    require_above_vacuum,
    require_not_negative,
    require_positive,
    require_within,
)


@dataclass(frozen=True)
class AirCan:
    """Raises `ImpossibleValue` naming the field: nothing at or below zero (the port's travel may be zero), no body
    wider than the bore around it, no chamber that vanishes before the stroke ends.
    """

    stroke_m: float
    bore_m: float
    body_m: float
    positive_volume_m3: float  # spacers taken off
    negative_volume_m3: float
    port_travel_m: float
    max_pressure_pa: float

    def __post_init__(self) -> None:
        for field in fields(self):
            check = require_not_negative if field.name == "port_travel_m" else require_positive
            check(field.name, getattr(self, field.name))
        if self.body_m >= self.bore_m:
            raise ImpossibleValue("body_m", "the damper body is not thinner than the can’s bore")
        require_within("port_travel_m", self.port_travel_m, 0.0, self.stroke_m)
        if self.positive_volume_m3 <= self.bore_area_m2 * self.stroke_m:
            vanishes_mm = 1000 * self.positive_volume_m3 / self.bore_area_m2
            reason = f"the chamber vanishes at {vanishes_mm:.1f} mm, before the stroke ends"
            raise ImpossibleValue("positive_volume_m3", reason)

    @cached_property
    def bore_area_m2(self) -> float:
        """Area the positive chamber pushes on."""
        return circle_area(self.bore_m)

    @cached_property
    def ring_area_m2(self) -> float:
        """Area the negative chamber pushes on."""
        return self.bore_area_m2 - circle_area(self.body_m)

    def positive_volume_at(self, travel_m: float) -> float:
        """Positive chamber at a travel, m³."""
        return self.positive_volume_m3 - self.bore_area_m2 * travel_m

    def negative_volume_at(self, travel_m: float) -> float:
        """Negative chamber at a travel, m³."""
        return self.negative_volume_m3 + self.ring_area_m2 * travel_m

    def lift_per_pascal(self, travel_m: float) -> float:
        """Force at a travel for each pascal (absolute) that both chambers hold where they meet, m²."""
        positive = self.positive_volume_at(self.port_travel_m) / self.positive_volume_at(travel_m)
        negative = self.negative_volume_at(self.port_travel_m) / self.negative_volume_at(travel_m)
        return self.bore_area_m2 * positive - self.ring_area_m2 * negative


def can_force(can: AirCan, pressure_pa: float, travel_m: float, *, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Force (N) that pushes the shock out at a travel; `pressure_pa` is what both chambers share where they meet."""
    require_above_vacuum("pressure_pa", pressure_pa, ambient_pa)
    require_within("travel_m", travel_m, 0.0, can.stroke_m)
    # The air around pushes the body in, over the body's own area.
    around_n = ambient_pa * (can.bore_area_m2 - can.ring_area_m2)
    return (pressure_pa + ambient_pa) * can.lift_per_pascal(travel_m) - around_n


def can_pressure_for_sag(can: AirCan, load_n: float, sag_m: float, *, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Pressure at which a load along the shock rests at a sag. The force is linear in it, so this is explicit.

    Raises `ImpossibleValue` naming `sag_m` where no pressure holds a load so close to full extension, `load_n` where it
    would sag less with no pressure at all or where it takes more than the can's maximum.
    """
    require_positive("load_n", load_n)
    require_positive("ambient_pa", ambient_pa)
    require_within("sag_m", sag_m, 0.0, can.stroke_m)
    lift = can.lift_per_pascal(sag_m)
    if lift <= 0:
        raise ImpossibleValue("sag_m", "no pressure holds a load this close to full extension")
    pressure_pa = (load_n + ambient_pa * (can.bore_area_m2 - can.ring_area_m2)) / lift - ambient_pa
    if pressure_pa < 0:
        raise ImpossibleValue("load_n", "the load sags less than that even with no pressure")
    if pressure_pa > can.max_pressure_pa:
        raise ImpossibleValue("load_n", "it takes more than the can’s maximum pressure")
    return pressure_pa
