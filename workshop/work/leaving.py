"""The settings a unit leaves with: of each the last one read, on the bench's proof or written down at hand-back.

Report, customer's page, hand-back form, ticket page and set-up card all ask here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Any

from diagnosis.declared import COMPRESSION_CLICKS, PRESSURE_SET, REBOUND_CLICKS, REST_DEPTH, SAG, measured_by_key
from diagnosis.models import Step
from diagnosis.runs_state import RunState
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.tickets.settings_record import Settings, settings_of

# The readings of proof steps that are a setting, by what they are of; clicks are whole.
_PROVED: Mapping[str, str] = {
    PRESSURE_SET: "pressure_pa",
    SAG: "sag_m",
    REST_DEPTH: "rest_travel_m",
    REBOUND_CLICKS: "rebound_clicks",
    COMPRESSION_CLICKS: "compression_clicks",
}
_WHOLE = frozenset({"rebound_clicks", "compression_clicks"})
# Two pressures nearer than a gauge is read to are one; common practice, no published source.
_SAME_PRESSURE_PA = 7000.0


@dataclass(frozen=True)
class _Read:
    at: dt.datetime
    name: str
    value: Any


@dataclass(frozen=True)
class Leaving:
    """The settings as it leaves. `sag_is_at_pressure`: the sag was read at the pressure that it leaves with."""

    settings: Settings
    sag_is_at_pressure: bool


def settings_as_it_leaves(ticket: Ticket, states: Iterable[RunState]) -> Leaving:
    """The last reading of each setting after the work; a field that nobody read is None, never that of arrival.

    `states` are the ticket's runs. An empty field of the hand-back record is no reading and takes none away.
    """
    reads = sorted([*_on_the_bench(states), *_at_hand_back(ticket)], key=lambda read: read.at)
    latest = {read.name: read for read in reads}
    sag = latest.get("sag_m")
    at_sag = [read.value for read in reads if read.name == "pressure_pa" and sag is not None and read.at <= sag.at]
    pressure_pa = latest["pressure_pa"].value if "pressure_pa" in latest else None
    same = bool(at_sag) and pressure_pa is not None and abs(at_sag[-1] - pressure_pa) <= _SAME_PRESSURE_PA
    return Leaving(Settings(**{name: read.value for name, read in latest.items()}), same)


def _on_the_bench(states: Iterable[RunState]) -> Iterator[_Read]:
    for state in states:
        for step_state in state.steps:
            if step_state.step.kind != Step.Kind.PROOF or step_state.tick is None:
                continue
            measures = measured_by_key(step_state.step.readings)
            for key, reading in step_state.readings.items():
                value = reading.magnitude_si
                if measures.get(key) in _PROVED and value is not None:
                    name = _PROVED[measures[key]]
                    yield _Read(reading.read_at, name, round(value) if name in _WHOLE else value)


def _at_hand_back(ticket: Ticket) -> Iterator[_Read]:
    for record in ticket.settings_records.all():
        if record.moment != SettingsRecord.Moment.HAND_BACK:
            continue
        written = settings_of(record)
        for field in fields(Settings):
            value = getattr(written, field.name)
            if value not in (None, ""):
                yield _Read(record.at, field.name, value)
