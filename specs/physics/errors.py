"""Errors that name the field at fault, and the few checks that raise them."""

import math


class ImpossibleValue(ValueError):
    """A value no real fork, oil, bolt or seal can have. `field` is the argument's name, `reason` a plain clause."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(f"{field}: {reason}")
        self.field = field
        self.reason = reason


class ContradictoryReading(ImpossibleValue):
    """Readings that are each possible but cannot both be true. `likely_slip` is a sentence for the mechanic."""

    def __init__(self, field: str, reason: str, *, likely_slip: str) -> None:
        super().__init__(field, reason)
        self.likely_slip = likely_slip


def require_finite(field: str, value: float) -> None:
    """Refuse infinities and NaN."""
    if not math.isfinite(value):
        raise ImpossibleValue(field, f"{value} is not a finite number")


def require_positive(field: str, value: float) -> None:
    """Refuse zero and less."""
    require_finite(field, value)
    if value <= 0:
        raise ImpossibleValue(field, f"{value:g} is not above zero")


def require_not_negative(field: str, value: float) -> None:
    """Refuse less than zero."""
    require_finite(field, value)
    if value < 0:
        raise ImpossibleValue(field, f"{value:g} is below zero")


def require_within(field: str, value: float, low: float, high: float) -> None:
    """Refuse anything outside low..high, ends included."""
    require_finite(field, value)
    if not low <= value <= high:
        raise ImpossibleValue(field, f"{value:g} is outside {low:g} to {high:g}")


def require_above_vacuum(field: str, gauge_pa: float, ambient_pa: float) -> None:
    """Refuse a gauge pressure at or below vacuum, and an ambient that is no pressure at all."""
    require_positive("ambient_pa", ambient_pa)
    require_finite(field, gauge_pa)
    if gauge_pa + ambient_pa <= 0:
        raise ImpossibleValue(field, f"{gauge_pa:g} Pa gauge is at or below vacuum for {ambient_pa:g} Pa around it")
