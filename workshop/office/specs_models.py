"""Adding a fork or shock model, and changing its facts."""

from __future__ import annotations

from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.db import transaction

from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from workshop.web.versions import take_version


@transaction.atomic
def add_model(*, facts: Mapping[str, object]) -> SuspensionModel:
    """Add a model. Raises ValidationError, for instance where there is one of that name and first year."""
    model = SuspensionModel(**facts)
    model.full_clean()
    model.save()
    return model


@transaction.atomic
def change_model(*, model: SuspensionModel, facts: Mapping[str, object], seen_version: int) -> SuspensionModel:
    """Change a model's name, years and facts.

    Raises:
        ValidationError: also on `travels_mm`, where a travel is left out that has values of its own.
        StaleVersion: someone else changed it after it was opened.
    """
    take_version(model, seen_version)
    for field, fact in facts.items():
        setattr(model, field, fact)
    own = SpecValue.objects.filter(model=model, is_current=True, withdrawn=False).exclude(travel_mm=ALL_TRAVELS)
    if kept := sorted(set(own.values_list("travel_mm", flat=True)) - set(model.travels_mm)):
        travels = ", ".join(f"{travel_mm} mm" for travel_mm in kept)
        raise ValidationError({"travels_mm": f"There are values for {travels}. Withdraw them first."})
    model.full_clean()
    model.save()
    return model
