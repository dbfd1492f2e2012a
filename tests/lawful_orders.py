"""Whether an order of checks is one that may be walked, asked of each step by itself."""

from __future__ import annotations

from collections.abc import Sequence

from diagnosis.ordering import SearchStep


def keeps_prerequisites(order: Sequence[str], steps: Sequence[SearchStep]) -> bool:
    """Whether every step of ``order`` comes after all the steps it needs, each once."""
    needs = {step.key: step.needs for step in steps}
    return len(set(order)) == len(order) and all(needs[key] <= set(order[:place]) for place, key in enumerate(order))
