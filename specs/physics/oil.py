"""Fork oil by numbers: viscosity index, viscosity at a temperature, blends and stand-ins. mm²/s and °C throughout.

"Weight" printed on a bottle is no standard for fork oil; compare oils by their viscosity at 40 °C and their index.
"""

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from specs.physics.errors import ImpossibleValue, require_finite, require_not_negative, require_positive

ZERO_CELSIUS_K = 273.15
# ASTM D2270 is not defined below; the two-term form of ASTM D341 holds from here up, and the practice ends far above.
LOWEST_MM2_S, HIGHEST_MM2_S = 2.0, 2e7
TABLE_END_MM2_S = 70.0
# ISO 3448 grades up to what a fork could hold, mm²/s at 40 °C, each ±10 %.
ISO_VG = (2.2, 3.2, 4.6, 6.8, 10.0, 15.0, 22.0, 32.0, 46.0, 68.0, 100.0, 150.0)
ISO_VG_TOLERANCE = 0.10


@dataclass(frozen=True)
class OilAtTwoTemperatures:
    """An oil by its two data-sheet viscosities. Raises `ImpossibleValue` naming the field."""

    kv40_mm2_s: float
    kv100_mm2_s: float

    def __post_init__(self) -> None:
        _require_pair(self.kv40_mm2_s, self.kv100_mm2_s)

    @property
    def viscosity_index(self) -> float:
        """ISO 2909 / ASTM D2270."""
        return viscosity_index(self.kv40_mm2_s, self.kv100_mm2_s)

    def viscosity_at(self, temperature_c: float) -> float:
        """mm²/s, ASTM D341."""
        return viscosity_at(self.kv40_mm2_s, self.kv100_mm2_s, temperature_c)


def viscosity_index(kv40_mm2_s: float, kv100_mm2_s: float) -> float:
    """Viscosity index, unrounded, from kinematic viscosities at 40 and 100 °C. ISO 2909 / ASTM D2270.

    Procedure A up to 100 (against the standard's table of L and H, its formulas above 70 mm²/s), B beyond.
    Raises `ImpossibleValue` below 2 mm²/s at 100 °C, where the index is not defined.
    """
    _require_pair(kv40_mm2_s, kv100_mm2_s)
    low, high = index_basis(kv100_mm2_s)
    if kv40_mm2_s > high:
        return (low - kv40_mm2_s) / (low - high) * 100
    power = math.log(high / kv40_mm2_s) / math.log(kv100_mm2_s)
    return float((10**power - 1) / 0.00715 + 100)


def index_basis(kv100_mm2_s: float) -> tuple[float, float]:
    """L and H of ASTM D2270: viscosities at 40 °C of the reference oils of index 0 and 100."""
    if kv100_mm2_s > TABLE_END_MM2_S:
        low = 0.8353 * kv100_mm2_s**2 + 14.67 * kv100_mm2_s - 216
        high = 0.1684 * kv100_mm2_s**2 + 11.85 * kv100_mm2_s - 97
        return low, high
    at100, lows, highs = _basis_table()
    return float(np.interp(kv100_mm2_s, at100, lows)), float(np.interp(kv100_mm2_s, at100, highs))


def viscosity_at(kv40_mm2_s: float, kv100_mm2_s: float, temperature_c: float) -> float:
    """Kinematic viscosity at a temperature, mm²/s: log10 log10 (v + 0.7) = A - B log10 T, ASTM D341.

    Raises `ImpossibleValue` naming `temperature_c` where the result leaves 2 to 2e7 mm²/s: below, the standard adds
    terms that this form lacks; above, it does not apply.
    """
    _require_pair(kv40_mm2_s, kv100_mm2_s)
    require_finite("temperature_c", temperature_c)
    kelvin = temperature_c + ZERO_CELSIUS_K
    if kelvin <= 0.0:
        raise ImpossibleValue("temperature_c", f"{temperature_c:g} °C is below absolute zero")
    at40, at100 = _double_log(kv40_mm2_s), _double_log(kv100_mm2_s)
    log40, log100 = math.log10(40 + ZERO_CELSIUS_K), math.log10(100 + ZERO_CELSIUS_K)
    double_log = at40 + (at100 - at40) * (math.log10(kelvin) - log40) / (log100 - log40)
    if not _double_log(LOWEST_MM2_S) - 1e-12 <= double_log <= _double_log(HIGHEST_MM2_S):
        limits = f"{LOWEST_MM2_S:g} to {HIGHEST_MM2_S:g} mm²/s"
        raise ImpossibleValue(
            "temperature_c", f"at {temperature_c:g} °C this oil leaves the range of ASTM D341, {limits}"
        )
    return _from_double_log(double_log)


def blend(parts: Sequence[tuple[OilAtTwoTemperatures, float]]) -> OilAtTwoTemperatures:
    """Oil from mixing parts of given volumes (any one unit). ASTM D7152, ASTM blending method, at 40 and at 100 °C.

    log10 log10 (v + 0.7) averages by volume. For base oils of one kind; index improvers and additive packages make it
    an estimate, and makers advise against mixing damper oils at all.
    """
    if not parts:
        raise ImpossibleValue("parts", "there is nothing to blend")
    for _, volume in parts:
        require_not_negative("volume", volume)
    total = math.fsum(volume for _, volume in parts)
    require_positive("volume", total)

    def mixed(viscosities: Sequence[float]) -> float:
        shares = (volume / total for _, volume in parts)
        weighted = (share * _double_log(v) for share, v in zip(shares, viscosities, strict=True))
        return _from_double_log(math.fsum(weighted))

    return OilAtTwoTemperatures(
        mixed([oil.kv40_mm2_s for oil, _ in parts]), mixed([oil.kv100_mm2_s for oil, _ in parts])
    )


def share_of_thicker(thin: OilAtTwoTemperatures, thick: OilAtTwoTemperatures, wanted_kv40_mm2_s: float) -> float:
    """Share by volume (0 to 1) of the thicker oil for a wanted viscosity at 40 °C: the blend, solved backwards."""
    require_positive("wanted_kv40_mm2_s", wanted_kv40_mm2_s)
    if thin.kv40_mm2_s >= thick.kv40_mm2_s:
        raise ImpossibleValue("thick", "the thicker oil is not thicker at 40 °C")
    if not thin.kv40_mm2_s <= wanted_kv40_mm2_s <= thick.kv40_mm2_s:
        limits = f"{thin.kv40_mm2_s:g} to {thick.kv40_mm2_s:g} mm²/s"
        raise ImpossibleValue("wanted_kv40_mm2_s", f"no mixture of the two leaves {limits}")
    thin_log, thick_log = _double_log(thin.kv40_mm2_s), _double_log(thick.kv40_mm2_s)
    return (_double_log(wanted_kv40_mm2_s) - thin_log) / (thick_log - thin_log)


def iso_grade(kv40_mm2_s: float) -> float | None:
    """The ISO 3448 grade whose ±10 % takes in a viscosity at 40 °C, or None: the grades leave gaps."""
    require_positive("kv40_mm2_s", kv40_mm2_s)
    return next((grade for grade in ISO_VG if abs(kv40_mm2_s / grade - 1) <= ISO_VG_TOLERANCE + 1e-9), None)


def _require_pair(kv40_mm2_s: float, kv100_mm2_s: float) -> None:
    require_positive("kv40_mm2_s", kv40_mm2_s)
    require_positive("kv100_mm2_s", kv100_mm2_s)
    if kv100_mm2_s < LOWEST_MM2_S:
        raise ImpossibleValue("kv100_mm2_s", f"below {LOWEST_MM2_S:g} mm²/s the standards’ equations do not hold")
    if kv40_mm2_s <= kv100_mm2_s:
        raise ImpossibleValue("kv40_mm2_s", "an oil is thicker at 40 °C than at 100 °C: are the two swapped?")
    if kv40_mm2_s > HIGHEST_MM2_S:
        raise ImpossibleValue("kv40_mm2_s", f"above {HIGHEST_MM2_S:g} mm²/s the standards’ equations do not hold")


def _double_log(viscosity_mm2_s: float) -> float:
    return math.log10(math.log10(viscosity_mm2_s + 0.7))


def _from_double_log(double_log: float) -> float:
    return float(10 ** (10**double_log) - 0.7)


@lru_cache(maxsize=1)
def _basis_table() -> NDArray[np.float64]:
    """Table 1 of ASTM D2270 (as in ISO 2909), 2 to 70 mm²/s: rows of KV100, L and H."""
    table = files("specs.physics").joinpath("viscosity_index_basis.csv").read_text(encoding="utf-8")
    rows = [tuple(map(float, row)) for row in list(csv.reader(table.splitlines()))[1:]]
    return np.array(rows, dtype=np.float64).T
