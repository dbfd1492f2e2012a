"""Which quantities a model can have at all, so that a rear shock is not shown as lacking a foot-bolt torque."""

from __future__ import annotations

from specs.models import SuspensionModel
from specs.quantities import QUANTITIES

_FORK_ONLY = frozenset(
    {
        "oil_volume_air_leg", "oil_volume_damper_leg", "lower_leg_oil",
        "foot_torque_air_leg", "foot_torque_damper_leg", "top_cap_torque_air_leg", "top_cap_torque_damper_leg",
        "axle_torque", "caliper_torque", "stem_torque",
        "stanchion", "lower_leg_volume", "foam_ring_size",
        "lowers_interval_hours", "lowers_interval_months",
    }
)  # fmt: skip
_SHOCK_ONLY = frozenset({"damper_body"})
# The air of the lower legs and the friction matter to the sums of an air spring only.
_AIR_ONLY = frozenset(
    {
        "max_pressure", "piston_bore", "air_shaft", "positive_volume", "negative_volume", "lower_leg_volume",
        "port_travel", "seal_friction", "damper_body",
    }
)  # fmt: skip
# The coil of a shock lies open: nothing to grease, no spring service.
_NOT_ON_COIL_SHOCK = frozenset({"spring_grease", "spring_interval_hours", "spring_interval_months"})
_EQUALISING_ONLY = frozenset({"port_travel"})


def expected_keys(model: SuspensionModel) -> tuple[str, ...]:
    """Keys that make sense for a model's known facts, in the registry's order; an unknown fact leaves them in."""
    left_out: set[str] = set()
    if model.kind == "shock":
        left_out |= _FORK_ONLY
    elif model.kind == "fork":
        left_out |= _SHOCK_ONLY
    if model.spring_kind == "coil":
        left_out |= _AIR_ONLY
        if model.kind == "shock":
            left_out |= _NOT_ON_COIL_SHOCK
    if model.self_equalising is False:
        left_out |= _EQUALISING_ONLY
    if model.foam_rings is False:
        left_out.add("foam_ring_size")
    return tuple(key for key in QUANTITIES if key not in left_out)
