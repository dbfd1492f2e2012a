"""What an oil is by its two viscosities, which of the shop's oils come near it, and what two of them mix to."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from specs.physics.errors import ImpossibleValue
from specs.physics.oil import LOWEST_MM2_S, OilAtTwoTemperatures, blend, iso_grade, share_of_thicker, viscosity_at
from workshop.sums.answer import NBSP, NO_SOURCE, Answer, AnswerRow, Missing, Table, percent, share_text, significant

SHOWN_STAND_INS = 6
# Oils this near stand in for each other in lower legs; common practice, no published source.
NEAR_SHARE = 0.10


@dataclass(frozen=True)
class NamedOil:
    """An oil the shop knows: None where a viscosity is not known."""

    name: str
    kv40_mm2_s: float | None
    kv100_mm2_s: float | None
    in_stores: bool = False

    def oil(self) -> OilAtTwoTemperatures | None:
        """The oil by its viscosities, or None where they are missing or cannot be an oil's."""
        if self.kv40_mm2_s is None or self.kv100_mm2_s is None:
            return None
        try:
            return OilAtTwoTemperatures(self.kv40_mm2_s, self.kv100_mm2_s)
        except ImpossibleValue:
            return None


@dataclass(frozen=True)
class Near:
    """How an oil differs from the wanted one, as shares of the wanted one's."""

    named: NamedOil
    oil: OilAtTwoTemperatures
    kv40_share: float
    index_share: float
    at_temperature_share: float | None

    @property
    def miss(self) -> float:
        """How far off at the working temperature, as the logarithm of the ratio; infinite where nothing is known."""
        return math.inf if self.at_temperature_share is None else abs(math.log1p(self.at_temperature_share))


@dataclass(frozen=True)
class Mixing:
    """A second oil, and either its share by volume or the viscosity at 40 °C wanted of the mixture."""

    name: str
    oil: OilAtTwoTemperatures
    share: float | None = None
    wanted_kv40_mm2_s: float | None = None


def near_oils(wanted: OilAtTwoTemperatures, shop_oils: Sequence[NamedOil], temperature_c: float) -> list[Near]:
    """The shop's oils whose viscosities are known, the nearest at the working temperature first."""
    found = []
    for named in shop_oils:
        oil = named.oil()
        if oil is None:
            continue
        found.append(
            Near(
                named,
                oil,
                oil.kv40_mm2_s / wanted.kv40_mm2_s - 1,
                _index_share(wanted, oil),
                _at(oil, wanted, temperature_c),
            )
        )
    return sorted(found, key=lambda near: (near.miss, near.named.name))


def oil_sum(
    *,
    name: str,
    oil: OilAtTwoTemperatures,
    temperature_c: float,
    temperature_words: Mapping[float, str],
    shop_oils: Sequence[NamedOil],
    mixing: Mixing | None = None,
) -> Answer:
    """The oil by numbers, its stand-ins, and a mixture where a second oil is given.

    Args:
        temperature_c: working temperature, °C; `temperature_words` writes 40, 100 and it in the shop's unit.
        shop_oils: what to look for stand-ins among; the oil itself is left out by its name.

    Raises `ImpossibleValue` naming the argument, such as a temperature at which ASTM D341 no longer holds.
    """
    at = _viscosity_at(oil, temperature_c)
    index = oil.viscosity_index
    others = [named for named in shop_oils if named.name != name]
    near = near_oils(oil, others, temperature_c)
    shown_at = temperature_words[temperature_c]
    words = [
        f"{name} has viscosity index {index:.0f} and {significant(at, 3)} mm²/s at {shown_at}.",
        _near_words(near, shown_at),
    ]
    grade = iso_grade(oil.kv40_mm2_s)
    rows = [
        AnswerRow("Viscosity index", f"{index:.0f}", "higher thins less as it warms"),
        AnswerRow(f"Viscosity at {shown_at}", f"{significant(at, 4)} mm²/s"),
        AnswerRow(f"Viscosity at {temperature_words[40.0]}", f"{significant(oil.kv40_mm2_s, 4)} mm²/s"),
        AnswerRow(f"Viscosity at {temperature_words[100.0]}", f"{significant(oil.kv100_mm2_s, 4)} mm²/s"),
        AnswerRow(
            "ISO 3448 grade", "between grades" if grade is None else f"VG {grade:g}", "each grade is ±10 % at 40 °C"
        ),
    ]
    tables = [_near_table(near[:SHOWN_STAND_INS], shown_at)] if near else []
    if mixing is not None:
        mix_words, mix_rows = _mixture(name, oil, mixing, temperature_c, shown_at)
        words.append(mix_words)
        rows += mix_rows
    return Answer(
        words=tuple(word for word in words if word),
        rows=tuple(rows),
        tables=tuple(tables),
        warnings=_warnings(index, temperature_c, temperature_words, mixing),
        assumed=_assumed(others, mixing),
        sources=_sources(mixing),
    )


def _index_share(wanted: OilAtTwoTemperatures, oil: OilAtTwoTemperatures) -> float:
    # an index near zero would make every difference look endless; a point is the least that matters
    return (oil.viscosity_index - wanted.viscosity_index) / max(1.0, abs(wanted.viscosity_index))


def _at(oil: OilAtTwoTemperatures, wanted: OilAtTwoTemperatures, temperature_c: float) -> float | None:
    try:
        return oil.viscosity_at(temperature_c) / wanted.viscosity_at(temperature_c) - 1
    except ImpossibleValue:
        return None


def _viscosity_at(oil: OilAtTwoTemperatures, temperature_c: float) -> float:
    try:
        return viscosity_at(oil.kv40_mm2_s, oil.kv100_mm2_s, temperature_c)
    except ImpossibleValue as error:
        low_c, high_c = valid_temperatures_c(oil)
        reason = f"{error.reason}. It reaches from {low_c:.0f} to {high_c:.0f} °C"
        raise ImpossibleValue("temperature_c", reason) from error


def valid_temperatures_c(oil: OilAtTwoTemperatures) -> tuple[float, float]:
    """The temperatures (°C, whole) between which ASTM D341's two-term form holds for an oil."""

    def holds(temperature_c: int) -> bool:
        try:
            oil.viscosity_at(float(temperature_c))
        except ImpossibleValue:
            return False
        return True

    cold = next((c for c in range(40, -273, -1) if not holds(c)), -273) + 1
    hot = next((c for c in range(40, 2000) if not holds(c)), 2000) - 1
    return float(cold), float(hot)


def _near_words(near: Sequence[Near], shown_at: str) -> str:
    if not near:
        return "No other oil with known viscosities is on the shop’s list to compare it with."
    nearest = near[0]
    if nearest.at_temperature_share is None:
        return f"At {shown_at} none of the other oils on the shop’s list is within the range of ASTM D341."
    shares = (nearest.at_temperature_share, nearest.kv40_share, nearest.index_share)
    difference = f"{percent(shares[0])} at {shown_at}, {percent(shares[1])} at 40 °C, {percent(shares[2])} in index"
    if all(abs(share) <= NEAR_SHARE for share in shares):
        return f"{nearest.named.name} stands nearest: {difference}."
    return f"Nothing on the shop’s list is near; {nearest.named.name} comes closest with {difference}."


def _near_table(near: Sequence[Near], shown_at: str) -> Table:
    rows = tuple(
        (
            one.named.name,
            f"{significant(one.oil.kv40_mm2_s, 4)}{NBSP}mm²/s",
            percent(one.kv40_share),
            f"{one.oil.viscosity_index:.0f}",
            percent(one.index_share),
            "out of range" if one.at_temperature_share is None else percent(one.at_temperature_share),
            "yes" if one.named.in_stores else "no",
        )
        for one in near
    )
    columns = ("Oil", "At 40 °C", "against yours", "Index", "against yours", f"At {shown_at}", "In Stores")
    return Table(f"Closest by viscosity at {shown_at}", columns, rows)


def _mixture(
    name: str, oil: OilAtTwoTemperatures, mixing: Mixing, temperature_c: float, shown_at: str
) -> tuple[str, list[AnswerRow]]:
    share = mixing.share
    if mixing.wanted_kv40_mm2_s is not None:
        share = _share_for(oil, mixing, mixing.wanted_kv40_mm2_s)
    if share is None:
        raise Missing("share", "say how much of the second oil, or what viscosity is wanted")
    mixed = blend([(oil, 1 - share), (mixing.oil, share)])
    parts = f"{share_text(1 - share)} {name} and {share_text(share)} {mixing.name}"
    words = (
        f"Mixed, {parts} come to {significant(mixed.kv40_mm2_s, 3)} mm²/s at 40 °C, index {mixed.viscosity_index:.0f}."
    )
    at = _viscosity_at(mixed, temperature_c)
    return words, [
        AnswerRow("The mixture at 40 °C", f"{significant(mixed.kv40_mm2_s, 4)} mm²/s"),
        AnswerRow("The mixture at 100 °C", f"{significant(mixed.kv100_mm2_s, 4)} mm²/s"),
        AnswerRow(f"The mixture at {shown_at}", f"{significant(at, 4)} mm²/s"),
        AnswerRow("The mixture’s index", f"{mixed.viscosity_index:.0f}"),
        AnswerRow(f"In 100 ml: {mixing.name}", f"{share * 100:.0f} ml", "by volume"),
    ]


def _share_for(oil: OilAtTwoTemperatures, mixing: Mixing, wanted_mm2_s: float) -> float:
    """Share of the second oil, whichever of the two is the thicker."""
    if abs(oil.kv40_mm2_s - mixing.oil.kv40_mm2_s) < 1e-9:
        raise ImpossibleValue("mixing", "both oils are equally thick at 40 °C; mixing changes nothing")
    thin, thick = sorted((oil, mixing.oil), key=lambda one: one.kv40_mm2_s)
    of_thicker = share_of_thicker(thin, thick, wanted_mm2_s)
    return of_thicker if thick is mixing.oil else 1 - of_thicker


def _warnings(
    index: float,
    temperature_c: float,
    temperature_words: Mapping[float, str],
    mixing: Mixing | None,
) -> tuple[str, ...]:
    warnings = []
    if not 0 <= temperature_c <= 100:
        warnings.append(
            f"{temperature_words[temperature_c]} is well outside the measured temperatures, 40 and 100 °C: "
            "wax in the cold, or index improvers, can make the true viscosity differ."
        )
    if index < 0:
        warnings.append("A viscosity index below zero is unusual for a fork oil: read both viscosities again.")
    if mixing is not None:
        warnings.append("Makers advise against mixing damper oils: additives may not agree. Ask the maker first.")
    return tuple(warnings)


def _assumed(others: Sequence[NamedOil], mixing: Mixing | None) -> tuple[str, ...]:
    assumed = [
        f"“Near” is within {share_text(NEAR_SHARE)} at work, at 40 °C and in index: {NO_SOURCE}.",
        "The “weight” on a bottle is no standard for fork oil and is not used.",
    ]
    unknown = sorted(named.name for named in others if named.oil() is None)
    if unknown:
        assumed.append(f"Not compared, because their viscosities are not known: {', '.join(unknown)}.")
    if mixing is not None:
        assumed.append("Both are oils of one kind; index improvers make a mixture’s figures an estimate.")
    return tuple(assumed)


def _sources(mixing: Mixing | None) -> tuple[str, ...]:
    sources = [
        "Index: ISO 2909 / ASTM D2270.",
        f"Viscosity at a temperature: ASTM D341, two-term form, from {LOWEST_MM2_S:g} mm²/s up.",
        "Grades: ISO 3448.",
    ]
    if mixing is not None:
        sources.append("Mixture: ASTM D7152, by volume.")
    return tuple(sources)
