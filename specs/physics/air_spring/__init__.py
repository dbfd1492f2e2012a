"""A self-equalising air spring: force, rest, what is stuck where, how to get it out, sag, filling, fit.

Travel counts from full extension. Pressures are gauge unless named absolute, and "the pressure" of a fork is the one
both chambers share at the port. Forces act along the fork; a positive spring force pushes it out.
"""

from specs.physics.air_spring.emptying import Emptied, after_strokes, emptied
from specs.physics.air_spring.filling import (
    loss_without_repumping,
    pump_and_cycle,
    rounds_to_settle,
    settled_pressure,
)
from specs.physics.air_spring.fit import ChamberFit, fit_chamber_length
from specs.physics.air_spring.friction import MeasuredFriction, friction_from_rests
from specs.physics.air_spring.geometry import AirSpring
from specs.physics.air_spring.inference import Inference, infer_from_earlier_pressure, infer_from_reading
from specs.physics.air_spring.lower_legs import (
    LowerLegEffect,
    bled,
    lower_leg_absolute_pressure,
    lower_leg_effect,
)
from specs.physics.air_spring.recovery import (
    PortForecast,
    forecast_inflating,
    greatest_moved_fraction,
    pressure_to_reach_port,
    pull_after_filling,
    pull_at_pressure,
    pull_to_port,
)
from specs.physics.air_spring.rest import axle_load_along_fork, healthy_band, rest_band, travel_at_force
from specs.physics.air_spring.sag import load_at_sag, pressure_for_sag, pressure_for_sag_by_rule
from specs.physics.air_spring.state import (
    ChamberPressures,
    ChamberState,
    equalised,
    force,
    pressures_at,
    stiffness,
    stuck,
)
from specs.physics.band import Band
from specs.physics.errors import ContradictoryReading, ImpossibleValue

__all__ = [
    "AirSpring",
    "Band",
    "ChamberFit",
    "ChamberPressures",
    "ChamberState",
    "ContradictoryReading",
    "Emptied",
    "ImpossibleValue",
    "Inference",
    "LowerLegEffect",
    "MeasuredFriction",
    "PortForecast",
    "after_strokes",
    "axle_load_along_fork",
    "bled",
    "emptied",
    "equalised",
    "fit_chamber_length",
    "force",
    "forecast_inflating",
    "friction_from_rests",
    "greatest_moved_fraction",
    "healthy_band",
    "infer_from_earlier_pressure",
    "infer_from_reading",
    "load_at_sag",
    "loss_without_repumping",
    "lower_leg_absolute_pressure",
    "lower_leg_effect",
    "pressure_for_sag",
    "pressure_for_sag_by_rule",
    "pressure_to_reach_port",
    "pressures_at",
    "pull_after_filling",
    "pull_at_pressure",
    "pull_to_port",
    "pump_and_cycle",
    "rest_band",
    "rounds_to_settle",
    "settled_pressure",
    "stiffness",
    "stuck",
    "travel_at_force",
]
