"""New forks and shocks."""

from __future__ import annotations

from typing import Unpack

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.customers.merged import who_stands
from workshop.customers.models import Customer
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.search_text import unit_search_text
from workshop.suspension.unit_fields import UnitEntries, write_entries


@transaction.atomic
def add_unit(*, customer: Customer, **entries: Unpack[UnitEntries]) -> SuspensionUnit:
    """Add a unit of a customer, by its model or in words. A model decides the kind.

    Raises:
        ValidationError: neither a model nor words, or a value is not acceptable.
    """
    customer = who_stands(customer)
    unit = SuspensionUnit(shop=customer.shop, customer=customer)
    write_entries(unit, entries)
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
