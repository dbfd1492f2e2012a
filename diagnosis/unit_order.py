"""Which steps bring about a condition of the unit. Pure."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TypeVar

from diagnosis.layout_plans import PROOF, WORK
from diagnosis.unit_state import UNSURE, StateStep

_S = TypeVar("_S", bound=StateStep)


def brought_about_by(part: str, allowed: Collection[str], steps: Sequence[_S]) -> list[_S]:
    """Work, then proofs, of which a plain answer leaves the part as is allowed, in handbook order.

    A check is a question, so it is never asked again for what it does on the way.
    """
    return [
        step
        for kind in (WORK, PROOF)
        for step in steps
        if step.kind == kind
        and any(
            (answer.get("leaves") or {}).get(part) in allowed
            for given, answer in (step.answers or {}).items()
            if given not in UNSURE
        )
    ]
