"""Changes to a fork or shock."""

from __future__ import annotations

from django.db import transaction

from specs.models import SuspensionModel
from workshop.suspension.adding import check_and_save
from workshop.suspension.models import SuspensionUnit
from workshop.web.versions import take_version


@transaction.atomic
def edit_unit(
    *,
    unit: SuspensionUnit,
    seen_version: int,
    kind: str,
    model: SuspensionModel | None,
    described_as: str,
    serial: str,
    travel_m: float | None,
    spring_kind: str,
    air_side: str,
    damper_kind: str,
    notes: str,
) -> SuspensionUnit:
    """Replace what is known of a unit. Raises StaleVersion or ValidationError."""
    take_version(unit, seen_version)
    unit.model, unit.kind = model, model.kind if model is not None else kind
    unit.described_as, unit.serial, unit.travel_m = described_as.strip(), serial.strip(), travel_m
    unit.spring_kind, unit.air_side, unit.damper_kind, unit.notes = spring_kind, air_side, damper_kind, notes
    check_and_save(unit)
    return unit
