"""Torque at the bolt: wrench settings, what the tool may be off by, and slips in a typed value."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from specs.physics.band import Band
from specs.physics.errors import ImpossibleValue, require_not_negative, require_positive, require_within

# ISO 6789-1: largest deviation allowed of a tool, by its greatest torque. From memory, and as makers' public manuals
# restate it for setting wrenches with a scale; a shop's calibration certificate goes first.
SMALL_TOOL_NM, SMALL_TOOL_DEVIATION, TOOL_DEVIATION = 10.0, 0.06, 0.04

# ISO 898-1, nominal stress under proof load, MPa, bolts up to 16 mm.
PROOF_STRESS_MPA: Mapping[str, float] = {"8.8": 580.0, "10.9": 830.0, "12.9": 970.0}
# Usual preload, and nut factors of lightly oiled to dry steel: handbook values, not a recommendation.
PRELOAD_SHARE, LOW_NUT_FACTOR, HIGH_NUT_FACTOR = 0.75, 0.15, 0.20
# Hollow, light-alloy and damper parts take far less than a steel bolt could; below this share even they are doubtful.
DOUBTFULLY_LOW_SHARE = 0.15
NM_PER_LBF_IN = 0.1129848290


@dataclass(frozen=True)
class Thread:
    """An ISO 261 metric thread."""

    diameter_mm: float
    pitch_mm: float

    @property
    def stress_area_mm2(self) -> float:
        """Nominal stress area, ISO 898-1: pi/4 (d - 0.9382 P)²."""
        return math.pi / 4 * (self.diameter_mm - 0.9382 * self.pitch_mm) ** 2


# Coarse pitch under the plain name, fine pitches spelled out.
THREADS: Mapping[str, Thread] = {
    "M3": Thread(3, 0.5),
    "M4": Thread(4, 0.7),
    "M5": Thread(5, 0.8),
    "M6": Thread(6, 1.0),
    "M7": Thread(7, 1.0),
    "M8": Thread(8, 1.25),
    "M8x1": Thread(8, 1.0),
    "M10": Thread(10, 1.5),
    "M10x1.25": Thread(10, 1.25),
    "M10x1": Thread(10, 1.0),
    "M12": Thread(12, 1.75),
    "M12x1.5": Thread(12, 1.5),
    "M12x1.25": Thread(12, 1.25),
    "M14": Thread(14, 2.0),
    "M14x1.5": Thread(14, 1.5),
    "M15x1.5": Thread(15, 1.5),
}


@dataclass(frozen=True)
class TorqueCheck:
    """Whether a typed torque can be meant, and why not. `ceiling_nm` is what a plain steel bolt would take."""

    verdict: Literal["plausible", "too high", "very low"]
    reason: str
    ceiling_nm: Band


def wrench_setting(
    target_nm: float, wrench_length_m: float, extension_m: float, extension_angle_deg: float = 0.0
) -> float:
    """What to set (N·m) for `target_nm` at the bolt with an extension on the wrench's end: T L / (L + E cos angle).

    Lengths from the middle of the grip to the drive, and from the drive to the bolt. In line is 0°, at 90° there is
    nothing to correct, folded back towards the hand is 180°. Raises `ImpossibleValue` if nothing of the lever is left.
    """
    require_positive("target_nm", target_nm)
    require_positive("wrench_length_m", wrench_length_m)
    require_not_negative("extension_m", extension_m)
    require_within("extension_angle_deg", extension_angle_deg, 0.0, 180.0)
    lever_m = wrench_length_m + extension_m * math.cos(math.radians(extension_angle_deg))
    if lever_m <= 0.0:
        raise ImpossibleValue("extension_m", "the extension reaches back past the hand")
    return target_nm * wrench_length_m / lever_m


def tool_deviation(tool_maximum_nm: float) -> float:
    """Largest deviation ISO 6789-1 allows a tool, as a share: 0.06 for tools up to 10 N·m, 0.04 above."""
    require_positive("tool_maximum_nm", tool_maximum_nm)
    return SMALL_TOOL_DEVIATION if tool_maximum_nm <= SMALL_TOOL_NM else TOOL_DEVIATION


def torque_at_bolt(setting_nm: float, tool_maximum_nm: float) -> Band:
    """What a conforming tool may put on the bolt at a setting. The setting must be within the tool's range."""
    require_positive("setting_nm", setting_nm)
    deviation = tool_deviation(tool_maximum_nm)
    if setting_nm > tool_maximum_nm:
        raise ImpossibleValue("setting_nm", f"the tool ends at {tool_maximum_nm:g} N·m")
    return Band(setting_nm * (1 - deviation), setting_nm, setting_nm * (1 + deviation))


def bolt_torque(nut_factor: float, diameter_m: float, preload_n: float) -> float:
    """Torque (N·m) for a preload: T = K d F, with K lumping thread and head friction."""
    require_positive("nut_factor", nut_factor)
    require_positive("diameter_m", diameter_m)
    require_positive("preload_n", preload_n)
    return nut_factor * diameter_m * preload_n


def steel_bolt_ceiling(thread: str, property_class: str, *, preload_share: float = PRELOAD_SHARE) -> Band:
    """Torque (N·m) that brings a solid steel bolt to a share of its proof stress: T = K d F, K from 0.15 to 0.20.

    For catching slips only, never a recommendation: the maker's value goes first.
    """
    require_within("preload_share", preload_share, 0.1, 1.0)
    size = THREADS.get(thread)
    if size is None:
        raise ImpossibleValue("thread", f"{thread!r} is not one of {', '.join(THREADS)}")
    proof_mpa = PROOF_STRESS_MPA.get(property_class)
    if proof_mpa is None:
        raise ImpossibleValue("property_class", f"{property_class!r} is not one of {', '.join(PROOF_STRESS_MPA)}")
    preload_n = preload_share * proof_mpa * size.stress_area_mm2
    low, high = (bolt_torque(k, size.diameter_mm / 1000, preload_n) for k in (LOW_NUT_FACTOR, HIGH_NUT_FACTOR))
    return Band(low, (low + high) / 2, high)


def check_torque(torque_nm: float, thread: str, property_class: str) -> TorqueCheck:
    """Catch 80 typed for 8.0 (or lbf·in typed as N·m) against what a steel bolt of that size and class can take."""
    require_positive("torque_nm", torque_nm)
    ceiling = steel_bolt_ceiling(thread, property_class)
    bolt = f"a solid {thread} bolt of class {property_class}"
    if torque_nm > ceiling.high:
        reason = f"{torque_nm:g} N·m is more than {bolt} takes ({ceiling.low:.1f} to {ceiling.high:.1f} N·m)."
        return TorqueCheck("too high", f"{reason} {_likely_meant(torque_nm, ceiling)}", ceiling)
    if torque_nm < DOUBTFULLY_LOW_SHARE * ceiling.low:
        reason = f"{torque_nm:g} N·m is far less than {bolt} takes ({ceiling.low:.1f} N·m)."
        return TorqueCheck("very low", f"{reason} Look for a slipped decimal point.", ceiling)
    return TorqueCheck("plausible", f"Within what {bolt} takes ({ceiling.high:.1f} N·m).", ceiling)


def _likely_meant(torque_nm: float, ceiling: Band) -> str:
    meant = []
    if torque_nm / 10 <= ceiling.high:
        meant.append(f"{torque_nm / 10:g} N·m")
    if torque_nm * NM_PER_LBF_IN <= ceiling.high:
        meant.append(f"{torque_nm:g} lbf·in ({torque_nm * NM_PER_LBF_IN:.1f} N·m)")
    return f"Was {' or '.join(meant)} meant?" if meant else "Look at the value and its unit again."
