"""Which quantities a model can have at all, so that a rear shock is not shown as lacking a foot-bolt torque."""

from __future__ import annotations

from specs.contradictions import COILS
from specs.models import SuspensionModel
from specs.quantities import QUANTITIES

_FORK_ONLY = frozenset(
    {
        "oil_volume_air_leg", "oil_volume_damper_leg", "lower_leg_oil",
        "foot_torque_air_leg", "foot_torque_damper_leg", "top_cap_torque_air_leg", "top_cap_torque_damper_leg",
        "axle_torque", "caliper_torque", "stem_torque",
        "steerer_clamp_torque", "upper_crown_torque", "lower_crown_torque", "seal_head_torque",
        "oil_volume_bath", "oil_level", "foot_key", "top_cap_socket", "seal_head_socket", "axle_key",
        "stanchion", "lower_leg_volume", "foam_ring_size",
        "lowers_interval_hours", "lowers_interval_months",
    }
)  # fmt: skip
# The air of the lower legs and the friction matter to the sums of an air spring only.
_AIR_ONLY = frozenset(
    {
        "max_pressure_negative", "max_pressure_ramp", "seal_head_torque", "seal_head_socket",
        "piston_bore", "air_shaft", "positive_volume", "negative_volume", "lower_leg_volume",
        "port_travel", "seal_friction", "damper_body",
    }
)  # fmt: skip
# The coil of a shock lies open: nothing to grease, no spring service.
_NOT_ON_COIL_SHOCK = frozenset({"spring_grease", "spring_interval_hours", "spring_interval_months"})
_EQUALISING_ONLY = frozenset({"port_travel"})
_TWIN_CROWN = frozenset({"steerer_clamp_torque", "upper_crown_torque", "lower_crown_torque"})
_THREADED = frozenset({"seal_head_torque", "seal_head_socket"})
_OPEN_BATH = frozenset({"oil_volume_bath", "oil_level"})
_OF_A_SHOCK = frozenset(
    {"damper_body", "shock_bolt_torque_front", "shock_bolt_torque_rear", "gas_charge_pressure", "bleed_pressure"}
)
_OF_A_RESERVOIR = frozenset({"gas_charge_pressure", "bleed_pressure"})


def expected_keys(model: SuspensionModel) -> tuple[str, ...]:
    """Keys that make sense for a model's known facts, in the registry's order; an unknown fact leaves them in."""
    lacking = _lacking(model)
    return tuple(key for key in QUANTITIES if key not in lacking)


def _lacking(model: SuspensionModel) -> frozenset[str]:
    """What a model surely has not, by the facts that are known of it."""
    lacking = (
        (model.kind == "shock", _FORK_ONLY),
        (model.kind == "fork", _OF_A_SHOCK),
        (model.kind == "fork" and model.crowns == "single", _TWIN_CROWN),
        (model.spring_kind in COILS, _AIR_ONLY),
        (model.spring_kind == "coil", frozenset({"max_pressure"})),
        (model.spring_kind in COILS and model.kind == "shock", _NOT_ON_COIL_SHOCK),
        (model.self_equalising is False, _EQUALISING_ONLY),
        (model.self_equalising is True, frozenset({"max_pressure_negative"})),
        (model.ramp_chamber is False, frozenset({"max_pressure_ramp"})),
        (model.foam_rings is False, frozenset({"foam_ring_size"})),
        (model.spring_retention not in ("", "threaded_cap"), _THREADED),
        (model.damper_kind not in ("", "open_bath"), _OPEN_BATH),
        (model.reservoir == "inline", _OF_A_RESERVOIR),
    )
    return frozenset(key for holds, keys in lacking if holds for key in keys)
