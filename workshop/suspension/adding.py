"""New forks and shocks."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction

from specs.models import SuspensionModel
from workshop.customers.models import Customer
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.search_text import unit_search_text


@transaction.atomic
def add_unit(
    *,
    customer: Customer,
    kind: str = "fork",
    model: SuspensionModel | None = None,
    described_as: str = "",
    serial: str = "",
    travel_m: float | None = None,
    spring_kind: str = "",
    air_side: str = "",
    damper_kind: str = "",
    notes: str = "",
) -> SuspensionUnit:
    """Add a unit of a customer, by its model or in words. A model decides the kind.

    Raises:
        ValidationError: neither a model nor words, or a value is not acceptable.
    """
    unit = SuspensionUnit(
        shop=customer.shop,
        customer=customer,
        kind=model.kind if model is not None else kind,
        model=model,
        described_as=described_as.strip(),
        serial=serial.strip(),
        travel_m=travel_m,
        spring_kind=spring_kind,
        air_side=air_side,
        damper_kind=damper_kind,
        notes=notes,
    )
    check_and_save(unit)
    return unit


def check_and_save(unit: SuspensionUnit) -> None:
    """Validate a new or changed unit, refresh what it is found by, and save it."""
    if unit.model is None and not unit.described_as:
        raise ValidationError({"described_as": "Choose a model, or say in words what it is."})
    unit.search_text = unit_search_text(unit)
    # Its one constraint is said by the field; asked of the database, a booking pays a statement for it.
    unit.full_clean(exclude=["shop", "customer", "model", "search_text"], validate_constraints=False)
    unit.save()
