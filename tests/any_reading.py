"""A reading that a step takes, for tests that only want the step answered."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnosis.reading_kinds import options_of


def any_reading(plan: Mapping[str, Any]) -> str:
    """Four of its unit, or the first of its words."""
    options = options_of(plan)
    return options[0] if options else f"4 {plan['unit']}"
