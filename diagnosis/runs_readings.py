"""Readings as they are typed at a step, put into SI and held against what can be meant."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from diagnosis.judging import NOTHING, Judgement, Yardstick, judge, slip_out_of_range
from diagnosis.reading_kinds import options_of, read_word
from specs.typed_measures import read_depth
from specs.units import UnitError, parse, show

UNJUDGED = Judgement("unjudged")
LONGEST_REASON = 400
FOUND_SO = "It came in above the maximum; air was let out below it since."


class ReadingsRefused(ValueError):
    """One or more readings cannot be taken; `errors` has a sentence for each reading's key.

    `may_be_as_found` says that a pressure is above the maximum and is taken once somebody says it was found so.
    `want_reasons` names the readings that are taken once somebody says why they are so.
    """

    def __init__(
        self, errors: Mapping[str, str], *, may_be_as_found: bool = False, want_reasons: Collection[str] = ()
    ) -> None:
        super().__init__(" ".join(errors.values()))
        self.errors, self.may_be_as_found, self.want_reasons = dict(errors), may_be_as_found, frozenset(want_reasons)


class AboveMaximum(UnitError):
    """A pressure above the maximum, taken only once somebody says that it was found so."""


class WantsReason(UnitError):
    """A reading outside what this unit is to have, taken only with a reason."""


@dataclass(frozen=True)
class TypedReading:
    """A reading in SI and as it was typed, the unit written out; how it stands, and where it is outside, why.

    One that is a word has no magnitude, and is held against nothing.
    """

    key: str
    magnitude_si: float | None
    typed: str
    judgement: Judgement = UNJUDGED
    held_against: Mapping[str, Any] = field(default_factory=dict)
    reason: str = ""

    @property
    def is_outside(self) -> bool:
        return self.judgement.standing in ("outside", "never")


@dataclass(frozen=True)
class Typed:
    """What was typed at a step, and what it is read and judged by.

    `typed`, `yardsticks` and `reasons` are by reading key, `units` by dimension: the one printed beside the field, or
    the plan's own. `above_maximum_is_meant`: a pressure found on arrival is taken although it is above the maximum.
    """

    typed: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    yardsticks: Mapping[str, Yardstick] = field(default_factory=dict)
    above_maximum_is_meant: bool = False
    reasons: Mapping[str, str] = field(default_factory=dict)

    def yardstick(self, key: str) -> Yardstick:
        return self.yardsticks.get(key, NOTHING)

    def reason(self, key: str) -> str:
        return " ".join(self.reasons.get(key, "").split())

    def judged(self, plan: Mapping[str, Any], magnitude_si: float) -> Judgement:
        """How a magnitude of that reading stands, in the units of the fields."""
        dimension, unit = plan["quantity"], unit_of(plan, self.units)

        def write(magnitude: float, of_dimension: str) -> str:
            return show(magnitude, of_dimension, unit if of_dimension == dimension else "%")

        return judge(magnitude_si, self.yardstick(plan["key"]), dimension=dimension, unit=unit, write=write)


def read_all(plans: list[dict[str, Any]], given: Typed, *, all_well: bool = False) -> list[TypedReading]:
    """Read what was typed for the readings of a step; empty ones are left out.

    Args:
        plans: the step's readings, as diagnosis.layout writes them.
        given: what was typed, and what it is judged by.
        all_well: the answer says that all is well, so that a reading outside what is wanted has to say why.

    Raises:
        ReadingsRefused: with a sentence for every reading that cannot be taken.
    """
    taken: list[TypedReading] = []
    errors: dict[str, str] = {}
    may_be_as_found, want_reasons = False, set()
    for plan in plans:
        text = " ".join(str(given.typed.get(plan["key"], "")).split())
        if not text:
            continue
        try:
            taken.append(_read(plan, text, given, all_well))
        except UnitError as error:
            errors[plan["key"]] = str(error)
            may_be_as_found = may_be_as_found or isinstance(error, AboveMaximum)
            want_reasons |= {plan["key"]} if isinstance(error, WantsReason) else set()
    unknown = set(given.typed) - {plan["key"] for plan in plans}
    if unknown:
        errors |= dict.fromkeys(unknown, "This step has no such reading.")
    if errors:
        raise ReadingsRefused(errors, may_be_as_found=may_be_as_found, want_reasons=want_reasons)
    return taken


def unit_of(plan: Mapping[str, Any], units: Mapping[str, str]) -> str:
    """The unit printed beside a reading."""
    return units.get(plan["quantity"]) or plan["unit"]


def _read(plan: Mapping[str, Any], text: str, given: Typed, all_well: bool) -> TypedReading:
    if options := options_of(plan):
        return TypedReading(plan["key"], None, read_word(text, options))
    dimension, unit, yardstick = plan["quantity"], unit_of(plan, given.units), given.yardstick(plan["key"])
    if len(text) > 40:
        raise UnitError("That is too long for a reading.")
    magnitude = _magnitude(text, dimension, unit, yardstick)
    judgement = given.judged(plan, magnitude)
    low, high = (_bound(plan, name) for name in ("low", "high"))
    if (low is not None and magnitude < low) or (high is not None and magnitude > high):
        slip = judgement.slip or slip_out_of_range(magnitude, low, high, dimension, unit)
        raise UnitError(f"{_out_of_range(low, high, dimension, unit)} {slip}".strip())
    if dimension in ("clicks", "count") and abs(magnitude - round(magnitude)) > 1e-9:
        raise UnitError("Count whole ones, for example 7.")
    if judgement.standing == "never":
        _refuse_never(judgement, yardstick, dimension, given.above_maximum_is_meant)
    reason = given.reason(plan["key"]) or (FOUND_SO if judgement.standing == "never" else "")
    if len(reason) > LONGEST_REASON:
        raise WantsReason(f"That is too long for a reason ({LONGEST_REASON} characters at most).")
    if judgement.standing == "outside" and all_well and not reason:
        raise WantsReason(wants_reason(judgement))
    written = show(magnitude, dimension, unit) if _is_bare_number(text) else text
    is_outside = judgement.standing in ("outside", "never")
    held_against = against(yardstick) if judgement.standing in ("within", "outside") else {}
    return TypedReading(plan["key"], magnitude, written, judgement, held_against, reason if is_outside else "")


def wants_reason(judgement: Judgement) -> str:
    """Why a reading outside what is wanted is not taken as it stands."""
    return f"{judgement.sentence} Enter it anew, or say why it is so all the same."


def against(yardstick: Yardstick) -> dict[str, Any]:
    """What a reading was held against, to be kept with it: SI, and what it is a share of."""
    wanted = yardstick.wanted
    if wanted is None:
        return {}
    kept: dict[str, Any] = {"label": wanted.label, "low": wanted.low, "high": wanted.high}
    if wanted.value is not None:
        kept["value"] = wanted.value
    return kept | ({"whole": yardstick.whole} if yardstick.whole else {})


def _magnitude(text: str, dimension: str, unit: str, yardstick: Yardstick) -> float:
    """In SI; a length that is wanted as a share of the travel may be typed as one."""
    if dimension == "length" and (yardstick.whole or yardstick.missing):
        depth = read_depth(text, unit=unit, length_unit=unit)
        if depth.share is not None and not yardstick.whole:
            raise UnitError(
                "A share cannot be worked out: this unit’s travel or range is not on record. Enter a length."
            )
        return depth.of(yardstick.whole or 0.0)
    return parse(text, dimension, unit)


def _bound(plan: Mapping[str, Any], name: str) -> float | None:
    text = plan.get(name)
    return parse(text, plan["quantity"], plan["unit"]) if text else None


def _out_of_range(low: float | None, high: float | None, dimension: str, unit: str) -> str:
    if low is not None and high is not None:
        return f"Enter a value from {show(low, dimension, unit)} to {show(high, dimension, unit)}."
    if low is not None:
        return f"Enter {show(low, dimension, unit)} or more."
    return f"Enter {show(high or 0.0, dimension, unit)} or less."


def _refuse_never(judgement: Judgement, yardstick: Yardstick, dimension: str, is_meant: bool) -> None:
    if not yardstick.as_found:
        cure = {
            "pressure": "Let air out below that, read again and enter what it shows.",
            "torque": "If it was tightened so, loosen it, look at bolt and thread, and tighten it again.",
        }
        raise UnitError(f"{judgement.sentence} {cure.get(dimension, 'It is not taken.')}")
    if not is_meant:
        raise AboveMaximum(
            f"{judgement.text} Check gauge and unit. If it really came in like this, let air out "
            "below the maximum first, then tick that it was found so."
        )


def _is_bare_number(text: str) -> bool:
    return all(character.isdigit() or character in "+-−.," for character in text)
