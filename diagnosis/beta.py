"""The Beta distribution, as far as credible intervals need it, in plain floats.

``mpmath.betainc`` gives the same numbers, but took two seconds for one value at 10,000 tickets.
"""

from __future__ import annotations

import math
from functools import lru_cache

MOST_TERMS = 10_000
SMALLEST = 1e-300
PRECISION = 1e-15
HALVINGS = 60  # the quantile is good to 2**-60 in absolute terms


def beta_cdf(x: float, a: float, b: float) -> float:
    """The chance that a Beta(a, b) share is at most ``x``: the regularised incomplete beta function.

    Continued fraction 8.17.22 of the Digital Library of Mathematical Functions by the modified Lentz method.
    Raises ``ValueError`` unless ``a`` and ``b`` are positive and finite.
    """
    if not (0.0 < a < math.inf and 0.0 < b < math.inf):
        raise ValueError(f"a Beta distribution needs positive weights, not {a} and {b}")
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    if x > (a + 1.0) / (a + b + 2.0):  # the fraction converges fast on the other side only
        return 1.0 - _lower_tail(1.0 - x, b, a)
    return _lower_tail(x, a, b)


def _lower_tail(x: float, a: float, b: float) -> float:
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    return math.exp(log_front) / a / _continued_fraction(x, a, b)


def _continued_fraction(x: float, a: float, b: float) -> float:
    value, numerator, denominator = 1.0, 1.0, 0.0
    for term in range(1, MOST_TERMS):
        m = term // 2
        if term % 2:
            coefficient = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            coefficient = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        denominator = 1.0 / _away_from_zero(1.0 + coefficient * denominator)
        numerator = _away_from_zero(1.0 + coefficient / numerator)
        value *= numerator * denominator
        if abs(numerator * denominator - 1.0) < PRECISION:
            return value
    raise ArithmeticError(f"the incomplete beta function did not settle at {x} for weights {a} and {b}")


def _away_from_zero(value: float) -> float:
    return value if abs(value) > SMALLEST else SMALLEST


@lru_cache(maxsize=4096)
def beta_quantile(chance: float, a: float, b: float) -> float:
    """The share that a Beta(a, b) falls below with the given chance, by halving an interval that holds it."""
    if not 0.0 <= chance <= 1.0:
        raise ValueError(f"a chance lies within 0..1, not {chance}")
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        if beta_cdf(middle, a, b) < chance:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
