"""A reading that a step takes, for tests that only want the step answered."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnosis.reading_kinds import options_of
from specs.units import parse


def any_reading(plan: Mapping[str, Any]) -> str:
    """Four of its unit, or the least it can be where that is out of its range; the first of its words."""
    if options := options_of(plan):
        return options[0]
    four = f"4 {plan['unit']}"
    low, high = (parse(plan[end], plan["quantity"], plan["unit"]) if plan.get(end) else None for end in ("low", "high"))
    magnitude = parse(four, plan["quantity"], plan["unit"])
    is_outside = (low is not None and magnitude < low) or (high is not None and magnitude > high)
    return str(plan["low"]) if is_outside else four
