"""How likely a complaint is to want a part of each role, by a checklist's own chances. Pure.

By the law of total probability: a cause has its prior weight, and is found at one of the checks that end the search on
it, each in the proportion of the chance that it settles the cause. A role is wanted where the finding there asks for
it, or the work that the finding names as its repair does.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Protocol


class AsksForParts(Protocol):
    """A step as far as it is read here; `answers` has the shape that diagnosis.layout validates."""

    @property
    def key(self) -> str: ...

    @property
    def ends_search(self) -> Mapping[str, float]: ...

    @property
    def answers(self) -> Mapping[str, Any]: ...


def weights_by_role(priors: Mapping[str, float], steps: Sequence[AsksForParts]) -> dict[str, float]:
    """By role, as checklists write it: the part of the prior weights that asks for it, in tickets.

    All weights together are what the checklist's chances are worth, in tickets: as the causes follow a Dirichlet
    distribution (see diagnosis.beliefs), whether one of several causes holds follows a Beta distribution of these two.

    Args:
        priors: prior weight of each cause, above 0.
        steps: those of the checklist that apply.
    """
    by_key = {step.key: step for step in steps}
    wanted: dict[str, float] = defaultdict(float)
    for cause, weight in priors.items():
        settling = [(step, chance) for step in steps if (chance := step.ends_search.get(cause, 0.0)) > 0]
        together = sum(chance for _, chance in settling)
        for step, chance in settling:
            for role in _roles_found_at(step, by_key):
                wanted[role] += weight * chance / together
    return dict(wanted)


def _roles_found_at(step: AsksForParts, by_key: Mapping[str, AsksForParts]) -> set[str]:
    found = step.answers.get("found") or {}
    mending = [by_key[key] for key in found.get("repair") or () if key in by_key]
    return _roles(found).union(*(_roles(one.answers.get("done") or {}) for one in mending))


def _roles(answer: Mapping[str, Any]) -> set[str]:
    parts: Iterable[Mapping[str, Any]] = answer.get("parts") or ()
    return {part["role"] for part in parts}
