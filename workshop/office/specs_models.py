"""Adding a fork or shock model, and changing its facts."""

from __future__ import annotations

from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.db import transaction

from specs.expected import ruled_out
from specs.facts import FactValue
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import QUANTITIES
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
    before = model.facts()
    for field, fact in facts.items():
        setattr(model, field, fact)
    own = SpecValue.objects.filter(model=model, is_current=True, withdrawn=False).exclude(travel_mm=ALL_TRAVELS)
    if kept := sorted(set(own.values_list("travel_mm", flat=True)) - set(model.travels_mm)):
        travels = ", ".join(f"{travel_mm} mm" for travel_mm in kept)
        raise ValidationError({"travels_mm": f"There are values for {travels}. Withdraw them first."})
    _check_values_fit(model, before)
    model.full_clean()
    model.save()
    return model


def _check_values_fit(model: SuspensionModel, before: Mapping[str, FactValue | None]) -> None:
    """Refuse a new fact that rules out what has a value on record, as a single crown does the lower crown's torque."""
    on_record = SpecValue.objects.filter(model=model, is_current=True, withdrawn=False)
    for quantity in sorted(set(on_record.values_list("quantity", flat=True))):
        fact, words = ruled_out(model.facts(), quantity)
        if fact and quantity in QUANTITIES and not ruled_out(before, quantity)[0]:
            named = QUANTITIES[quantity].label
            said = f"“{named}” has a value here, and “{words}” has none. Withdraw the value first, if it is wrong."
            raise ValidationError({fact: said})
