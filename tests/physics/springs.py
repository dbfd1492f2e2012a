"""An invented fork spring for the tests, and a strategy that draws others like it."""

from dataclasses import replace

from hypothesis import strategies as st

from specs.physics.air_spring import AirSpring, force, stuck
from specs.physics.air_spring.geometry import circle_area
from specs.physics.air_spring.lower_legs import LowerLegEffect

SPRING = AirSpring(
    travel_m=0.160,
    piston_bore_m=0.032,
    air_shaft_m=0.010,
    damper_shaft_m=0.010,
    stanchion_m=0.035,
    positive_volume_m3=180e-6,
    negative_volume_m3=25e-6,
    lower_leg_volume_m3=450e-6,
    port_travel_m=0.004,
    friction_n=25.0,
    max_pressure_pa=12e5,
)


def changed(**fields: float) -> AirSpring:
    """The invented spring with some fields changed."""
    return replace(SPRING, **fields)


def rest_shift_m(effect: LowerLegEffect) -> float:
    """How much deeper (m) the fork rests for the air shut in its legs; below zero where that holds it out."""
    return effect.rest_before.mid - effect.rest_after_bleeding.mid


@st.composite
def springs(draw: st.DrawFn) -> AirSpring:
    """Springs of forks that could be built: 80 to 220 mm, 24 to 40 mm bores."""
    travel_m = draw(st.floats(0.08, 0.22))
    bore_m = draw(st.floats(0.024, 0.040))
    shaft_m = draw(st.floats(0.006, 0.014))
    stanchion_m = bore_m + draw(st.floats(0.002, 0.006))
    piston_m2, shaft_m2 = circle_area(bore_m), circle_area(shaft_m)
    legs_m2 = 2 * circle_area(stanchion_m) - 2 * shaft_m2
    return AirSpring(
        travel_m=travel_m,
        piston_bore_m=bore_m,
        air_shaft_m=shaft_m,
        damper_shaft_m=shaft_m,
        stanchion_m=stanchion_m,
        positive_volume_m3=piston_m2 * travel_m * draw(st.floats(1.1, 2.0)),
        negative_volume_m3=piston_m2 * draw(st.floats(0.01, 0.08)),
        lower_leg_volume_m3=legs_m2 * travel_m * draw(st.floats(1.3, 4.0)),
        port_travel_m=draw(st.floats(0.0, 0.02)),
        friction_n=draw(st.floats(0.0, 60.0)),
        max_pressure_pa=draw(st.floats(8e5, 20e5)),
    )


pressures_pa = st.floats(1e5, 15e5)
ambients_pa = st.floats(54_000.0, 107_500.0)
fractions = st.floats(0.0, 0.95)
exponents = st.floats(1.0, 1.4)


def rests_inside(spring: AirSpring, pressure_pa: float, fraction: float, ambient_pa: float) -> bool:
    """Whether a stuck fork balances between its end stops, friction aside."""
    state = stuck(spring, pressure_pa, fraction, ambient_pa=ambient_pa)
    return force(spring, state, 0.0) < 0.0 < force(spring, state, spring.travel_m)
