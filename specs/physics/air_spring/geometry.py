"""The dimensions of an air spring and the volumes and areas that follow from them."""

import math
from dataclasses import dataclass, fields
from functools import cached_property

from specs.physics.errors import ImpossibleValue, require_not_negative, require_positive, require_within


def circle_area(diameter_m: float) -> float:
    """Area of a circle, m²."""
    return math.pi / 4 * diameter_m**2


@dataclass(frozen=True)
class AirSpring:
    """A self-equalising fork spring. Travel counts from full extension; volumes are those at full extension.

    Raises `ImpossibleValue` (a `ValueError`) naming the field: nothing at or below zero (a damper shaft, the port's
    travel and friction may be zero), no shaft wider than what it runs in, no chamber that vanishes before full travel.
    """

    travel_m: float
    piston_bore_m: float
    air_shaft_m: float
    damper_shaft_m: float
    stanchion_m: float  # outside diameter
    positive_volume_m3: float  # spacers taken off
    negative_volume_m3: float
    lower_leg_volume_m3: float  # both legs together
    port_travel_m: float  # where the chambers meet
    friction_n: float
    max_pressure_pa: float

    def __post_init__(self) -> None:
        may_be_zero = {"damper_shaft_m", "port_travel_m", "friction_n"}
        for field in fields(self):
            check = require_not_negative if field.name in may_be_zero else require_positive
            check(field.name, getattr(self, field.name))
        self._check_diameters()
        require_within("port_travel_m", self.port_travel_m, 0.0, self.travel_m)
        self._check_volume("positive_volume_m3", self.positive_volume_m3, self.piston_area_m2)
        self._check_volume("lower_leg_volume_m3", self.lower_leg_volume_m3, self.lower_leg_area_m2)

    def _check_diameters(self) -> None:
        if self.air_shaft_m >= self.piston_bore_m:
            raise ImpossibleValue("air_shaft_m", "the air shaft is not thinner than the piston bore")
        if self.piston_bore_m >= self.stanchion_m:
            raise ImpossibleValue("piston_bore_m", "the piston bore is not smaller than the stanchion around it")
        if self.damper_shaft_m >= self.stanchion_m:
            raise ImpossibleValue("damper_shaft_m", "the damper shaft is not thinner than the stanchion around it")

    def _check_volume(self, field: str, volume_m3: float, area_m2: float) -> None:
        vanishes_at_m = volume_m3 / area_m2
        if vanishes_at_m <= self.travel_m:
            depths = f"{vanishes_at_m * 1000:.1f} mm, before full travel at {self.travel_m * 1000:.1f} mm"
            raise ImpossibleValue(field, f"the chamber vanishes at {depths}")

    @cached_property
    def piston_area_m2(self) -> float:
        """Area the positive chamber pushes on."""
        return circle_area(self.piston_bore_m)

    @cached_property
    def shaft_area_m2(self) -> float:
        """Cross-section of the air shaft."""
        return circle_area(self.air_shaft_m)

    @cached_property
    def negative_area_m2(self) -> float:
        """Area the negative chamber pushes on: the piston less its shaft."""
        return self.piston_area_m2 - self.shaft_area_m2

    @cached_property
    def lower_leg_area_m2(self) -> float:
        """Rate at which the lower-leg air loses volume: stanchions come in, both shafts go out."""
        return 2 * circle_area(self.stanchion_m) - self.shaft_area_m2 - circle_area(self.damper_shaft_m)

    @cached_property
    def positive_at_port_m3(self) -> float:
        """Positive chamber where the chambers meet."""
        return self.positive_volume_at(self.port_travel_m)

    @cached_property
    def negative_at_port_m3(self) -> float:
        """Negative chamber where the chambers meet."""
        return self.negative_volume_at(self.port_travel_m)

    def positive_volume_at(self, travel_m: float) -> float:
        """Positive chamber at a travel, m³."""
        return self.positive_volume_m3 - self.piston_area_m2 * travel_m

    def negative_volume_at(self, travel_m: float) -> float:
        """Negative chamber at a travel, m³."""
        return self.negative_volume_m3 + self.negative_area_m2 * travel_m

    def lower_leg_volume_at(self, travel_m: float) -> float:
        """Air of both lower legs at a travel, m³."""
        return self.lower_leg_volume_m3 - self.lower_leg_area_m2 * travel_m

    def require_travel(self, field: str, travel_m: float) -> None:
        """Refuse a travel the fork does not have."""
        require_within(field, travel_m, 0.0, self.travel_m)
