"""Whether an order of steps may be worked in at all."""

from __future__ import annotations

from collections.abc import Sequence

from diagnosis.ordering import OrderStep


def keeps_prerequisites(order: Sequence[str], steps: Sequence[OrderStep]) -> bool:
    """Whether every step of ``order`` comes after all the steps it needs."""
    needs = {step.key: step.needs for step in steps}
    return all(needs[key] <= set(order[:place]) for place, key in enumerate(order))
