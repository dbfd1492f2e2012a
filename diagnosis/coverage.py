"""Which units a checklist covers: one that never asks for a kind of unit would treat it as something else. Pure.

Facts that nobody knows are no reason to refuse: the steps then ask at the bench. What makes a unit one of a kind of its
own is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Protocol

from diagnosis.layout_facts import Facts, condition_of_line, fits
from specs.facts import FactValue

OWN_KINDS: Mapping[tuple[str, FactValue], str] = {
    ("spring_kind", "air_coil"): "a coil with air assist",
    ("crowns", "twin"): "a fork with a twin crown",
    ("inverted", True): "an inverted fork",
    ("ramp_chamber", True): "a ramp-up chamber with a valve of its own",
}
"""Facts that a checklist has to ask for somewhere before it may be worked through on such a unit, and their words."""

NO_COMMON_WAY: Mapping[str, str] = {
    OWN_KINDS["spring_kind", "air_coil"]: (
        "There is no way common to all makers: the air stands over the coil, over the leg’s oil, or in a chamber of "
        "its own, and not every valve empties all of it. Only with the manual: air out and proved out at each valve, "
        "preload counted and backed off, before anything else is loosened. Both back as they were, and the sag set "
        "with both. Write down what was done."
    ),
}
"""Why a kind is refused everywhere, and what to do, by its words. Common practice, no published source."""

OWN_STEP = frozenset({("inverted", True)})
"""Those whose steps differ so much that a line of a shared step is not enough: a step of their own has to be there."""

_COIL_SHOCK = {"kind": "shock", "spring_kind": "coil"}


class Covering(Protocol):
    """A step as far as it says on which units it is done, and which service it is part of."""

    @property
    def only_if(self) -> Mapping[str, Any]: ...
    @property
    def do(self) -> Sequence[Any]: ...
    @property
    def services(self) -> Sequence[str]: ...
    @property
    def ends_search(self) -> Mapping[str, float]: ...


def is_of_its_own_kind(facts: Facts) -> bool:
    """Whether a checklist has to be looked through before it is begun on a unit with these facts."""
    return any(facts.get(fact) == value for fact, value in OWN_KINDS) or _is_coil_shock(facts)


def what_it_leaves_out(steps: Iterable[Covering], facts: Facts) -> list[str]:
    """What these steps do not cover of the unit, such as “an inverted fork”; empty where they cover it."""
    if not is_of_its_own_kind(facts):
        return []
    listed = list(steps)
    asked = {pair for step in listed for pair in _pairs(step.only_if)}
    asked |= {pair for step in listed for line in step.do for pair in _pairs(condition_of_line(line))} - OWN_STEP
    own = [pair for pair in OWN_KINDS if facts.get(pair[0]) == pair[1]]
    left_out = [OWN_KINDS[pair] for pair in own if pair not in asked]
    if _is_coil_shock(facts) and not _has_anything_to_do(listed, facts):
        left_out.append("a coil shock")
    return left_out


def refusal(title: str, left_out: Sequence[str]) -> str:
    """Why a checklist cannot be begun, and what to do instead."""
    why = [NO_COMMON_WAY[words] for words in left_out if words in NO_COMMON_WAY]
    return " ".join(
        [
            f"“{title}” does not cover {' and '.join(left_out)}: its steps would treat it as something else.",
            *(why or ["Work by the maker’s manual, or have the checklist written for it."]),
        ]
    )


def _is_coil_shock(facts: Facts) -> bool:
    return all(facts.get(fact) == value for fact, value in _COIL_SHOCK.items())


def _has_anything_to_do(steps: Sequence[Covering], facts: Facts) -> bool:
    """Whether a service has a step of its own on this unit, or a search a check that can end it."""
    own = [step for step in steps if step.services or any(step.ends_search.values())]
    return not own or any(fits(step.only_if, facts) != "no" for step in own)


def _pairs(condition: Mapping[str, Any]) -> Iterator[tuple[str, FactValue]]:
    for fact, wanted in condition.items():
        for value in wanted if isinstance(wanted, list | tuple) else (wanted,):
            yield fact, value
