"""What answers a finding: the steps that mend it, the test that shows it, or the parts fitted for it. Pure.

A checklist names the steps under `repair`. Where it does not they follow from what it says anyway: the work that
mends a fault which the finding leaves, or the proof that the finding leads to; else it is the parts it asks for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from diagnosis.layout_plans import PROOF
from diagnosis.runs_rules import FOUND, RunStep, answer_of
from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import PARTS

_FAULTS = frozenset({"leaking", "loose"})


@dataclass(frozen=True)
class Repair:
    """What answers a finding: all of `steps` after it; where there are none, one of the parts with these roles."""

    steps: tuple[RunStep, ...] = ()
    parts: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.steps or self.parts)


def repair_of(found_at: RunStep, steps: Sequence[RunStep]) -> Repair:
    """What answers a finding at a step; `steps` are those of its checklist that apply. Empty where nothing is named."""
    answer = answer_of(found_at, FOUND)
    by_key = {step.key: step for step in steps}
    named = [by_key[key] for key in answer.get("repair") or () if key in by_key]
    if not named:
        named = list(_mending((answer.get("leaves") or {}).items(), steps))
    target = by_key.get(answer.get("next") or "")
    if not named and target is not None and target.kind == PROOF:
        named = [target]
    return Repair(tuple(named), tuple(part["role"] for part in answer.get("parts") or ()))


def _mending(left: Iterable[tuple[str, str]], steps: Sequence[RunStep]) -> Iterable[RunStep]:
    """For each fault that a finding leaves, the first work that closes it."""
    for part, value in left:
        if value in _FAULTS:
            yield from brought_about_by(part, PARTS[part].closed, steps)[:1]
