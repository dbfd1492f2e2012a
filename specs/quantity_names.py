"""A quantity as a file names it: by its key, or by its words, with the leg or the side apart where it has one. Pure."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping

from specs.quantities import QUANTITIES

# What files call a leg of a fork or an end of a shock, and how a key ends that is of it.
_SIDES: Mapping[str, str] = {
    "spring": "air_leg", "spring side": "air_leg", "spring leg": "air_leg",
    "air": "air_leg", "air side": "air_leg", "air leg": "air_leg",
    "damper": "damper_leg", "damper side": "damper_leg", "damper leg": "damper_leg",
    "front": "front", "front eyelet": "front", "rear": "rear", "rear eyelet": "rear",
}  # fmt: skip
SIDE_WORDS = "spring, damper; of a shock front, rear"
_ENDS = tuple(dict.fromkeys(_SIDES.values()))


class QuantityUnknown(ValueError):
    """No quantity is meant, or more than one. `column` is “quantity” or “leg”."""

    def __init__(self, column: str, reason: str) -> None:
        super().__init__(reason)
        self.column = column
        self.reason = reason


def quantity_named(name: str, leg: str = "") -> str:
    """The key of a quantity; raises QuantityUnknown.

    Args:
        name: its key, its words, or its words without the leg that `leg` says.
        leg: which leg or eyelet, empty where the name says it or where there is only one.
    """
    end = _end_of(leg)
    named = name if name in QUANTITIES else _BY_WORDS.get(_plain(name), "")
    if not end:
        if named:
            return named
        raise _unknown(name)
    if named and named.endswith(end):
        return named
    if key := _BY_SIDE.get((_plain(name), end)):
        return key
    if not named:
        raise _unknown(name)
    label = QUANTITIES[named].label
    if named.endswith(_ENDS):
        raise QuantityUnknown("leg", f"“{label}” is of another leg or side than “{leg.strip()}”.")
    raise QuantityUnknown("leg", f"“{label}” has no leg or side; leave this cell empty.")


def _end_of(leg: str) -> str:
    if not leg.strip():
        return ""
    end = _SIDES.get(_plain(leg))
    if end is None:
        raise QuantityUnknown("leg", f"“{leg.strip()[:20]}” is none of {SIDE_WORDS}.")
    return end


def _unknown(name: str) -> QuantityUnknown:
    plain = _plain(name)
    of_sides = [QUANTITIES[key].label for (words, _), key in _BY_SIDE.items() if words == plain]
    if of_sides:
        said = " or ".join(f"“{label}”" for label in dict.fromkeys(of_sides))
        return QuantityUnknown("leg", f"This could be {said}. Say which.")
    near = difflib.get_close_matches(plain, _BY_WORDS, n=1, cutoff=0.75)
    hint = f" Is “{QUANTITIES[_BY_WORDS[near[0]]].label}” meant?" if near else ""
    return QuantityUnknown("quantity", f"“{name.strip()[:60]}” is no quantity that is kept here.{hint}")


def _plain(words: str) -> str:
    return " ".join(re.sub(r"[\W_]+", " ", words.casefold()).split())


def _without_side(label: str) -> str:
    return _plain(label.rpartition(",")[0])


_BY_WORDS: Mapping[str, str] = {
    words: key for key, one in QUANTITIES.items() for words in (_plain(key), _plain(one.label))
}
_BY_SIDE: Mapping[tuple[str, str], str] = {
    (words, end): key
    for key, one in QUANTITIES.items()
    for end in _ENDS
    if key.endswith(f"_{end}")
    for words in (_without_side(one.label), _plain(key.removesuffix(end)))
}
