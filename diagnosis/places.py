"""Where a fork is set and where it is ridden, and what that does to the gas inside. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from specs.physics.atmosphere import SEA_LEVEL_PA, pressure_at_altitude
from specs.physics.pressure import at_ambient, at_temperature

ROOM_K = 293.15


@dataclass(frozen=True)
class Place:
    """A height above sea level and the temperature of the air there."""

    altitude_m: float = 0.0
    temperature_k: float = ROOM_K

    @property
    def ambient_pa(self) -> float:
        """Air pressure of the ISO 2533 atmosphere there."""
        return SEA_LEVEL_PA if self.altitude_m == 0.0 else pressure_at_altitude(self.altitude_m)


@dataclass(frozen=True)
class Carry:
    """A closed chamber carried between two places: absolute pressure goes with kelvin, gauge with the air around it."""

    here: Place
    there: Place

    def to_there(self, gauge_pa: float) -> float:
        """What a gauge pressure set here becomes there."""
        return carried(gauge_pa, self.here, self.there)

    def to_here(self, gauge_pa: float) -> float:
        """What to set here to have a gauge pressure there."""
        return carried(gauge_pa, self.there, self.here)


def carried(gauge_pa: float, from_place: Place, to_place: Place) -> float:
    """A gauge pressure (Pa) of one place as it is in another, at one travel, nothing lost.

    Raises `specs.physics.errors.ImpossibleValue` naming `pressure_pa` for a pressure below vacuum.
    """
    if from_place == to_place:
        return gauge_pa
    ambient_pa = from_place.ambient_pa
    warmed_pa = at_temperature(gauge_pa, from_place.temperature_k, to_place.temperature_k, ambient_pa=ambient_pa)
    return at_ambient(warmed_pa, ambient_pa, to_place.ambient_pa)
