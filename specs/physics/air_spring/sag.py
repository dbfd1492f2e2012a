"""Pressure for a wanted sag, from the model and by the rule of thumb."""

from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.state import equalised, force
from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.errors import ImpossibleValue, require_finite, require_positive


def load_at_sag(spring: AirSpring, pressure_pa: float, sag_m: float, *, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Load along the fork (N) that a measured sag at a known pressure tells of, friction left out."""
    spring.require_travel("sag_m", sag_m)
    return force(spring, equalised(spring, pressure_pa, ambient_pa=ambient_pa), sag_m)


def pressure_for_sag(spring: AirSpring, load_n: float, sag_m: float, *, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Gauge pressure (equalised at the port) at which a load along the fork settles at a sag, friction left out.

    The force is linear in the pressure, so this is explicit. Legs closed at ambient. Raises `ImpossibleValue` naming
    `sag_m` where more pressure does not hold more load (shallower than the port by too much), and `load_n` where the
    load would sag less than that with no pressure at all.
    """
    require_finite("load_n", load_n)
    require_positive("ambient_pa", ambient_pa)
    spring.require_travel("sag_m", sag_m)
    lift_per_pa_m2 = spring.piston_area_m2 * spring.positive_at_port_m3 / spring.positive_volume_at(
        sag_m
    ) - spring.negative_area_m2 * spring.negative_at_port_m3 / spring.negative_volume_at(sag_m)
    if lift_per_pa_m2 <= 0.0:
        raise ImpossibleValue("sag_m", "no pressure holds a load this close to full extension")
    unpressurised_n = force(spring, equalised(spring, 0.0, ambient_pa=ambient_pa), sag_m)
    pressure_pa = (load_n - unpressurised_n) / lift_per_pa_m2
    if pressure_pa < 0.0:
        raise ImpossibleValue("load_n", "the load sags less than that even with no pressure")
    return pressure_pa


def pressure_for_sag_by_rule(pressure_pa: float, measured_sag_m: float, wanted_sag_m: float) -> float:
    """Rule of thumb beside the model: gauge pressure in inverse ratio to sag. Common practice, no published source."""
    require_positive("pressure_pa", pressure_pa)
    require_positive("measured_sag_m", measured_sag_m)
    require_positive("wanted_sag_m", wanted_sag_m)
    return pressure_pa * measured_sag_m / wanted_sag_m
