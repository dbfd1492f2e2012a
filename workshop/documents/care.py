"""Care advice for the customer, and the next service. The advice is common practice, no published source."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from specs.models import SpecValue
from specs.units import from_si, number_text

FORK_CARE = (
    "Wipe the sliding tubes and seals with a soft dry cloth after a dirty ride. Look for oil rings and scratches.",
    "Do not point a pressure washer at the seals: it drives water and grit past them.",
    "Check the pressure every few weeks with a shock pump, and after a big change of height or temperature.",
    "After pumping, push the fork slowly through half its travel ten times and read again: the chambers even out.",
    "If the fork rests more than a finger's width into its travel with nobody on it, ride gently and call us.",
)
SHOCK_CARE = (
    "Wipe the shaft and its seal with a soft dry cloth after a dirty ride. Look for oil and scratches.",
    "Do not point a pressure washer at the seals: it drives water and grit past them.",
    "Check the pressure every few weeks with a shock pump, and after a big change of height or temperature.",
    "Listen for a knock at the mounts when you lift the saddle: it wears quickly once it starts.",
)


def care_advice(kind: str) -> tuple[str, ...]:
    return SHOCK_CARE if kind == "shock" else FORK_CARE


def next_service(values: Mapping[str, SpecValue], level: str, serviced_on: date) -> dict[str, Any]:
    """When the next service of a level is due, in words, and from which source; empty where none is known."""
    hours, months = values.get(f"{level}_interval_hours"), values.get(f"{level}_interval_months")
    parts, sources = [], []
    if hours is not None and hours.magnitude_si is not None:
        parts.append(f"after {number_text(from_si(hours.magnitude_si, 'time', 'h'), 'h')} hours of riding")
        sources.append(_standing(hours))
    if months is not None and months.magnitude_si is not None:
        whole_months = round(from_si(months.magnitude_si, "time", "months"))
        parts.append(f"by {_in_months(serviced_on, whole_months):%B %Y}")
        sources.append(_standing(months))
    ending = ", whichever comes first" if len(parts) == 2 else ""
    return {
        "words": " or ".join(parts) + ending if parts else "",
        "source": "; ".join(dict.fromkeys(sources)),
    }


def _standing(value: SpecValue) -> str:
    return f"{value.source} ({'checked' if value.is_checked else 'not checked against the manual'})"


def _in_months(day: date, months: int) -> date:
    """The first of the month so many months on: the report names a month, not a day."""
    total = day.year * 12 + day.month - 1 + months
    return date(total // 12, total % 12 + 1, 1)
