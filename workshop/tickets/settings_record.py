"""The settings of a unit as it arrived and as it is handed back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from specs.lookup import current_values
from specs.units import show
from workshop.staff.models import Shop, User
from workshop.tickets.logbook import log
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.web.versions import StaleVersion, take_version

NO_RECORD_YET = 0
NOT_READ = "not read"
LABELS: Mapping[str, str] = {
    "pressure_pa": "Pressure",
    "sag_m": "Sag",
    "rest_travel_m": "Rest depth",
    "rebound_clicks": "Rebound, clicks from closed",
    "compression_clicks": "Compression, clicks from closed",
    "high_compression_clicks": "High-speed compression, clicks from closed",
    "spacers": "Spacers",
    "remarks": "Remarks",
}
_DIMENSIONS: Mapping[str, str] = {"pressure_pa": "pressure", "sag_m": "length", "rest_travel_m": "length"}


@dataclass(frozen=True)
class Settings:
    """Pressure and lengths in SI, clicks counted from fully closed. What was not read is None."""

    pressure_pa: float | None = None
    sag_m: float | None = None
    rest_travel_m: float | None = None
    rebound_clicks: int | None = None
    compression_clicks: int | None = None
    high_compression_clicks: int | None = None
    spacers: int | None = None
    remarks: str = ""

    @property
    def is_empty(self) -> bool:
        return all(value in (None, "") for value in asdict(self).values())


def settings_of(record: SettingsRecord | None) -> Settings:
    """The values of a record; of none, an empty one."""
    if record is None:
        return Settings()
    return Settings(**{field.name: getattr(record, field.name) for field in fields(Settings)})


def settings_in_words(name: str, value: Any, shop: Shop) -> str:
    """One setting as the shop reads it; "not read" where there is none."""
    if value in (None, ""):
        return NOT_READ
    if name in _DIMENSIONS:
        return show(value, _DIMENSIONS[name], shop.unit_for(_DIMENSIONS[name]))
    return str(value)


@transaction.atomic
def record_settings(
    *, ticket: Ticket, moment: str, settings: Settings, by: User | None, seen_version: int = NO_RECORD_YET
) -> SettingsRecord:
    """Write down the settings of one moment, or correct them; each change goes to the logbook.

    Args:
        moment: one of SettingsRecord.Moment.
        seen_version: the version of the record that was corrected, NO_RECORD_YET for a first one.

    Raises:
        StaleVersion: somebody wrote or corrected the record meanwhile.
        ValidationError: a value is not acceptable, such as a pressure above the unit's maximum at hand-back.
    """
    record = SettingsRecord.objects.filter(ticket=ticket, moment=moment).first()
    before = settings_of(record)
    if record is None:
        record = SettingsRecord(ticket=ticket, moment=moment)
    else:
        take_version(record, seen_version)
    if moment == SettingsRecord.Moment.HAND_BACK:
        _refuse_above_maximum(ticket, settings.pressure_pa)
    for field in fields(Settings):
        setattr(record, field.name, getattr(settings, field.name))
    record.by, record.at = by, timezone.now()
    record.full_clean(exclude=["ticket", "by"], validate_constraints=False)
    _save(record, ticket, moment)
    _log_change(ticket, moment, before, settings, by)
    return record


def _refuse_above_maximum(ticket: Ticket, pressure_pa: float | None) -> None:
    """Nothing leaves above its maximum; on arrival it is a fact."""
    unit = ticket.unit
    if pressure_pa is None or unit.model is None:
        return
    values = current_values(unit.model, None if unit.travel_m is None else round(unit.travel_m * 1000))
    maximum = values["max_pressure"].magnitude_si if "max_pressure" in values else None
    if maximum is not None and pressure_pa > maximum * (1 + 1e-6):
        most = show(maximum, "pressure", ticket.shop.unit_for("pressure"))
        said = f"The maximum of this {unit.kind} is {most}. Let air out below it and record what it shows then."
        raise ValidationError({"pressure_pa": said})


def _save(record: SettingsRecord, ticket: Ticket, moment: str) -> None:
    """Save; of two who write the first record at once, the second gets StaleVersion."""
    try:
        with transaction.atomic():
            record.save()
    except IntegrityError:
        raise StaleVersion(SettingsRecord.objects.get(ticket=ticket, moment=moment)) from None


def _log_change(ticket: Ticket, moment: str, before: Settings, after: Settings, by: User | None) -> None:
    changes = {
        name: [getattr(before, name), value] for name, value in asdict(after).items() if value != getattr(before, name)
    }
    if changes:
        kind = "settings_written" if before.is_empty else "settings_corrected"
        log(ticket=ticket, by=by, kind=kind, values={"moment": str(moment)}, changes=changes)
