"""Changes to a fork or shock."""

from __future__ import annotations

from typing import Unpack

from django.db import transaction

from workshop.suspension.adding import check_and_save
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import UnitEntries, write_entries
from workshop.web.versions import take_version


@transaction.atomic
def edit_unit(*, unit: SuspensionUnit, seen_version: int, **entries: Unpack[UnitEntries]) -> SuspensionUnit:
    """Replace these entries of a unit. Raises StaleVersion or ValidationError."""
    take_version(unit, seen_version)
    write_entries(unit, entries)
    check_and_save(unit)
    return unit
