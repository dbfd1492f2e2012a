"""The median and other percentiles, by the method of the NIST/SEMATECH e-Handbook. No Django.

NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2 “Percentiles”: of N values in order, the percentile p lies at
the place p (N + 1), between two neighbours in proportion; below the first place it is the least value, above the last
the greatest. Hyndman and Fan (1996) number it 6; NumPy calls it `weibull`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

METHOD = "NIST/SEMATECH e-Handbook 7.2.6.2"


def percentile(values: Iterable[float], share: float) -> float | None:
    """The value that a `share` (0 to 1) of the values does not pass; None of no values.

    Raises:
        ValueError: the share is outside 0 to 1.
    """
    if not 0 <= share <= 1:
        raise ValueError(f"share: {share} is outside 0 to 1")
    ordered = sorted(values)
    if not ordered:
        return None
    # Rounded, so that a place that is whole on paper, such as 0.9 x 10, is whole here too.
    place = round(share * (len(ordered) + 1), 9)
    below = math.floor(place)
    if below < 1:
        return ordered[0]
    if below >= len(ordered):
        return ordered[-1]
    return ordered[below - 1] + (place - below) * (ordered[below] - ordered[below - 1])


def median(values: Iterable[float]) -> float | None:
    """The middle value, or half way between the two in the middle."""
    return percentile(values, 0.5)
