"""Which quantities a model can have at all, so that a rear shock is not shown as lacking a foot-bolt torque."""

from __future__ import annotations

from collections.abc import Mapping

from specs.contradictions import COILS
from specs.facts import FACTS, FactValue
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


# Few units have these, or they are read off the fastener.
_RARE = frozenset(
    {
        "max_pressure_negative", "max_pressure_ramp", "gas_charge_pressure", "oil_volume_bath", "oil_level",
        "seal_head_torque", "seal_head_socket", "top_cap_socket", "foot_key", "axle_key", "steerer_clamp_torque",
    }
)  # fmt: skip


def expected_keys(model: SuspensionModel) -> tuple[str, ...]:
    """Keys that make sense for a model's known facts, in the registry's order; an unknown fact leaves them in."""
    lacking = lacking_by(model.facts())
    return tuple(key for key in QUANTITIES if key not in lacking)


def lacking_by(facts: Mapping[str, FactValue | None]) -> frozenset[str]:
    """What a unit surely has not, by the facts that are known of it."""
    is_fork, is_shock = facts.get("kind") == "fork", facts.get("kind") == "shock"
    spring, levels = facts.get("spring_kind"), facts.get("self_equalising")
    lacking = (
        (is_shock, _FORK_ONLY),
        (is_fork, _OF_A_SHOCK),
        (is_fork and facts.get("crowns") == "single", _TWIN_CROWN),
        (spring in COILS, _AIR_ONLY),
        (spring == "coil", frozenset({"max_pressure"})),
        (spring in COILS and is_shock, _NOT_ON_COIL_SHOCK),
        (levels is False, _EQUALISING_ONLY),
        (levels is True, frozenset({"max_pressure_negative"})),
        (facts.get("ramp_chamber") is False, frozenset({"max_pressure_ramp"})),
        (facts.get("foam_rings") is False, frozenset({"foam_ring_size"})),
        (facts.get("spring_retention") not in (None, "threaded_cap"), _THREADED),
        (facts.get("damper_kind") not in (None, "open_bath"), _OPEN_BATH),
        (facts.get("reservoir") == "inline", _OF_A_RESERVOIR),
    )
    return frozenset(key for holds, keys in lacking if holds for key in keys)


def ruled_out(facts: Mapping[str, FactValue | None], quantity: str) -> tuple[str, str]:
    """The fact that cannot be true beside a value of this quantity, and its words; both empty where all can.

    Asked of what a crown is tightened to: of the rest a value too many is harmless, and the facts may come later.
    """
    if quantity not in _TWIN_CROWN:
        return "", ""
    kind = {"kind": facts.get("kind")}
    for fact in FACTS:
        if facts.get(fact) is not None and quantity in lacking_by({**kind, fact: facts[fact]}):
            value = facts[fact]
            said = FACTS[fact].values.get(value, str(value)) if value is not None else ""
            return fact, f"{FACTS[fact].label}: {said}"
    return "", ""


def not_asked(facts: Mapping[str, FactValue | None]) -> frozenset[str]:
    """What is no gap where it has no value: a unit with these facts has it not, or few have it and nobody knows."""
    there = (
        (facts.get("ramp_chamber") is True, frozenset({"max_pressure_ramp"})),
        (facts.get("self_equalising") is False, frozenset({"max_pressure_negative"})),
        (facts.get("crowns") == "twin", _TWIN_CROWN),
        (facts.get("spring_retention") == "threaded_cap", _THREADED),
        (facts.get("damper_kind") == "open_bath", _OPEN_BATH),
        (facts.get("reservoir") in ("piggyback", "hose"), _OF_A_RESERVOIR),
    )
    return lacking_by(facts) | _RARE.difference(*(keys for holds, keys in there if holds))
