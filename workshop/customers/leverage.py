"""How far a bike's rear wheel goes for what its shock does: noting it, and why it is refused."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils import timezone

from specs.physics.errors import ContradictoryReading, ImpossibleValue
from specs.physics.leverage import possible_leverage
from workshop.customers.models import Bike
from workshop.staff.models import User


def note_leverage(bike: Bike, leverage: float | None, source: str, by: User | None) -> None:
    """Put a leverage into a record that is not saved yet; noted anew only where it or its source changes.

    Raises ValidationError, at `leverage` or `leverage_source`: impossible, or one without the other.
    """
    if leverage is None and source:
        raise ValidationError({"leverage": "Enter the leverage, or leave out where it is from."})
    if leverage is not None:
        try:
            possible_leverage(leverage)
        except ImpossibleValue as impossible:
            raise ValidationError({"leverage": refusal_in_words(impossible)}) from None
        if source not in Bike.LeverageSource.values:
            raise ValidationError({"leverage_source": "Say where the leverage is from."})
    if (leverage, source) == (bike.leverage, bike.leverage_source):
        return
    bike.leverage, bike.leverage_source = leverage, source
    bike.leverage_by, bike.leverage_at = (None, None) if leverage is None else (by, timezone.now())


def refusal_in_words(impossible: ImpossibleValue) -> str:
    """Why a leverage cannot be, with its likely slip."""
    reason = f"{impossible.reason[:1].upper()}{impossible.reason[1:]}."
    slip = impossible.likely_slip if isinstance(impossible, ContradictoryReading) else ""
    return f"{reason} {slip}".strip()
