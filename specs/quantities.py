"""Every quantity a spec value can have: its words, dimension, and the range that is plausible at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Group = Literal["air", "oil", "torque", "geometry", "setup", "sizes", "interval"]

GROUP_LABELS: Mapping[Group, str] = {
    "air": "Air",
    "oil": "Oil and grease",
    "torque": "Torque",
    "geometry": "Spring geometry",
    "setup": "Set-up",
    "sizes": "Sizes",
    "interval": "Service intervals",
}


@dataclass(frozen=True)
class Quantity:
    """A quantity: key, words, dimension (None for text such as an oil's name), unit and plausible range.

    `low` and `high` are SI and mark slips of the pen (80 N·m for 8.0), not limits of any real part;
    they are common practice, no published source.
    """

    key: str
    label: str
    group: Group
    dimension: str | None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    why_range: str = ""


_SMALL_BOLT = "A foot fastener or cap on a fork takes far less; was the decimal point lost?"
_AXLE = "An axle or brake bolt takes less than that; was the decimal point lost?"
_PSI = 6894.757293168361
_H = 3600.0
_MONTH = 365.25 * 86400 / 12


def _air(key: str, label: str) -> Quantity:
    return Quantity(key, label, "air", "pressure", "psi", 5 * _PSI, 400 * _PSI, "Forks and shocks work below 400 psi.")


def _torque(key: str, label: str, high_nm: float = 35.0, why: str = _SMALL_BOLT) -> Quantity:
    return Quantity(key, label, "torque", "torque", "N·m", 0.5, high_nm, why)


def _bore(key: str, label: str, low_mm: float, high_mm: float) -> Quantity:
    return Quantity(
        key, label, "geometry", "length", "mm", low_mm / 1000, high_mm / 1000,
        f"Expected between {low_mm:g} and {high_mm:g} mm.",
    )  # fmt: skip


def _volume(key: str, label: str, group: Group, low_ml: float, high_ml: float) -> Quantity:
    return Quantity(
        key, label, group, "volume", "ml", low_ml * 1e-6, high_ml * 1e-6,
        f"Expected between {low_ml:g} and {high_ml:g} ml.",
    )  # fmt: skip


def _interval(key: str, label: str, unit: str) -> Quantity:
    if unit == "h":
        return Quantity(key, label, "interval", "time", "h", 5 * _H, 1000 * _H, "Expected between 5 and 1,000 hours.")
    return Quantity(
        key, label, "interval", "time", "months", _MONTH, 120 * _MONTH, "Expected between 1 and 120 months."
    )


QUANTITIES: Mapping[str, Quantity] = {
    q.key: q
    for q in (
        _air("max_pressure", "Maximum pressure"),
        _air("max_pressure_negative", "Maximum pressure, negative chamber with its own valve"),
        _air("max_pressure_ramp", "Maximum pressure, ramp-up chamber"),
        Quantity(
            "gas_charge_pressure",
            "Gas charge of the damper",
            "air",
            "pressure",
            "psi",
            20 * _PSI,
            1000 * _PSI,
            "Dampers are charged with 20 to 1,000 psi.",
        ),
        Quantity(
            "bleed_pressure",
            "Pressure while the damper is bled",
            "air",
            "pressure",
            "psi",
            1 * _PSI,
            1000 * _PSI,
            "Dampers are bled at no more than 1,000 psi.",
        ),
        _volume("oil_volume_air_leg", "Lower-leg oil, spring side", "oil", 1, 200),
        _volume("oil_volume_damper_leg", "Lower-leg oil, damper side", "oil", 1, 200),
        _volume("oil_volume_bath", "Open bath, oil volume", "oil", 10, 1000),
        Quantity(
            "oil_level",
            "Open bath, oil level below the top edge",
            "oil",
            "length",
            "mm",
            0.010,
            0.400,
            "Expected between 10 and 400 mm.",
        ),
        Quantity("lower_leg_oil", "Lower-leg oil", "oil", None),
        Quantity("damper_oil", "Damper oil", "oil", None),
        Quantity("spring_grease", "Spring grease", "oil", None),
        _torque("foot_torque_air_leg", "Foot fastener, spring side"),
        _torque("foot_torque_damper_leg", "Foot fastener, damper side"),
        _torque("top_cap_torque_air_leg", "Top cap, spring side", 50.0),
        _torque("top_cap_torque_damper_leg", "Top cap, damper side", 50.0),
        _torque("axle_torque", "Axle", 25.0, _AXLE),
        _torque("caliper_torque", "Caliper bolts", 15.0, _AXLE),
        _torque("stem_torque", "Stem bolts", 15.0, _AXLE),
        _torque("seal_head_torque", "Threaded seal head", 50.0),
        _torque("steerer_clamp_torque", "Crown, clamp of the steerer", 25.0, _AXLE),
        _torque("upper_crown_torque", "Upper crown, clamps of the legs", 25.0, _AXLE),
        _torque("lower_crown_torque", "Lower crown, clamps of the legs", 25.0, _AXLE),
        _torque("shock_bolt_torque_front", "Shock bolt, front eyelet", 40.0, _AXLE),
        _torque("shock_bolt_torque_rear", "Shock bolt, rear eyelet", 40.0, _AXLE),
        _bore("piston_bore", "Air piston bore", 10, 60),
        _bore("air_shaft", "Air shaft diameter", 4, 30),
        _bore("damper_shaft", "Damper shaft diameter", 4, 30),
        _bore("damper_body", "Damper body inside the air can", 8, 70),
        _bore("stanchion", "Stanchion diameter", 25, 45),
        _volume("positive_volume", "Positive chamber volume, extended", "geometry", 10, 1000),
        _volume("negative_volume", "Negative chamber volume, extended", "geometry", 0.5, 500),
        _volume("lower_leg_volume", "Lower-leg air volume, extended", "geometry", 10, 2000),
        _bore("port_travel", "Transfer port, travel from extended", 0, 40),
        Quantity(
            "seal_friction",
            "Friction of the seals",
            "geometry",
            "force",
            "N",
            1.0,
            300.0,
            "Expected between 1 and 300 N.",
        ),
        Quantity("sag_low", "Sag, from", "setup", "fraction", "%", 0.05, 0.45, "Expected between 5 and 45 %."),
        Quantity("sag_high", "Sag, to", "setup", "fraction", "%", 0.05, 0.45, "Expected between 5 and 45 %."),
        Quantity("rebound_clicks", "Rebound range", "setup", "clicks", "clicks", 1, 60, "Expected 1 to 60 clicks."),
        Quantity(
            "compression_clicks",
            "Compression range",
            "setup",
            "clicks",
            "clicks",
            1,
            60,
            "Expected 1 to 60 clicks.",
        ),
        Quantity("foot_key", "Key or socket at the feet", "sizes", None),
        Quantity("top_cap_socket", "Socket of the top caps", "sizes", None),
        Quantity("seal_head_socket", "Socket of the threaded seal head", "sizes", None),
        Quantity("axle_key", "Key of the axle", "sizes", None),
        Quantity("wiper_size", "Wiper", "sizes", None),
        Quantity("foam_ring_size", "Foam ring", "sizes", None),
        _interval("lowers_interval_hours", "Lowers service, ride hours", "h"),
        _interval("lowers_interval_months", "Lowers service, months", "months"),
        _interval("spring_interval_hours", "Spring service, ride hours", "h"),
        _interval("spring_interval_months", "Spring service, months", "months"),
        _interval("full_interval_hours", "Full service, ride hours", "h"),
        _interval("full_interval_months", "Full service, months", "months"),
    )
}


class ImplausibleValue(ValueError):
    """A value of the right dimension but of a size that no fork has."""


def check_plausible(key: str, magnitude_si: float) -> None:
    """Raise ImplausibleValue, with the reason, for a magnitude outside the quantity's plausible range."""
    quantity = QUANTITIES[key]
    too_low = quantity.low is not None and magnitude_si < quantity.low
    too_high = quantity.high is not None and magnitude_si > quantity.high
    if too_low or too_high:
        slip = "less" if too_low else "more"
        raise ImplausibleValue(f"That is far {slip} than “{quantity.label}” can be. {quantity.why_range}")


def other_leg(key: str) -> str:
    """The same quantity of the other leg, as oil_volume_damper_leg is of oil_volume_air_leg; "" if there is none."""
    for here, there in (("air_leg", "damper_leg"), ("damper_leg", "air_leg")):
        if key.endswith(here):
            other = key.removesuffix(here) + there
            return other if other in QUANTITIES else ""
    return ""


def grouped(keys: list[str]) -> dict[Group, list[str]]:
    """Keys by group, in the registry's order."""
    wanted = set(keys)
    groups: dict[Group, list[str]] = {}
    for key, quantity in QUANTITIES.items():
        if key in wanted:
            groups.setdefault(quantity.group, []).append(key)
    return groups
