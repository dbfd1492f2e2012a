"""A value with the range that friction, noise or ignorance leaves around it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Band:
    """`low <= mid <= high`, all in the unit of the quantity."""

    low: float
    mid: float
    high: float

    def contains(self, value: float) -> bool:
        """Whether a value lies in the band, ends included."""
        return self.low <= value <= self.high
