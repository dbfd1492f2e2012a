"""Every combination of facts that a checklist tells apart. Pure."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any, Protocol

from diagnosis.layout_facts import fits
from diagnosis.unit_parts import AS_IT_CAME, PARTS, allowed_values
from specs.facts import FACTS, FactValue


class Conditional(Protocol):
    """A step as far as it says on which units it is done, and which of their parts it is about."""

    @property
    def only_if(self) -> Mapping[str, Any]: ...
    @property
    def requires(self) -> Any: ...
    @property
    def opens(self) -> Any: ...
    @property
    def answers(self) -> Any: ...


@dataclass(frozen=True)
class Combination:
    """Facts of a unit, a fact that nobody knows left out, and what follows from them.

    `applies` says of each step whether it is, or may be, done; `parts` are the parts that the unit has, or may have, as
    far as the steps change them: the others stay as they came.
    Every other combination of which the same follows gives the same adapted checklist.
    """

    facts: Mapping[str, FactValue]
    applies: tuple[bool, ...]
    parts: frozenset[str]


def parts_named(steps: Sequence[Conditional]) -> list[str]:
    """The parts that these steps change or want changed, in the order of PARTS; the others stay as they came."""
    named = {part for step in steps for part in step.opens or ()}
    named |= {
        part
        for step in steps
        for part, words in (step.requires or {}).items()
        if AS_IT_CAME not in allowed_values(part, words)
    }
    named |= {part for step in steps for answer in (step.answers or {}).values() for part in answer.get("leaves") or {}}
    return [part for part in PARTS if part in named]


def combinations(steps: Sequence[Conditional], kinds: Collection[str]) -> list[Combination]:
    """Every adapted checklist once, with the first combination of facts that gives it; facts may be unknown."""
    changed = parts_named(steps)
    asked = {fact for step in steps for fact in step.only_if} | {fact for part in changed for fact in PARTS[part].when}
    names = [name for name in FACTS if name in asked and name != "kind"]
    found: dict[tuple[tuple[bool, ...], frozenset[str]], Combination] = {}
    for kind in kinds:
        for values in product(*([*FACTS[name].values, None] for name in names)):
            facts = {
                "kind": kind,
                **{name: value for name, value in zip(names, values, strict=True) if value is not None},
            }
            applies = tuple(fits(step.only_if, facts) != "no" for step in steps)
            parts = frozenset(key for key in changed if fits(PARTS[key].when, facts) != "no")
            found.setdefault((applies, parts), Combination(facts, applies, parts))
    return list(found.values())
