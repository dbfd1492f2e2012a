"""Spec values on paper: each with its standing, a missing one as a blank."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from specs.lookup import choose, current_values
from specs.models import SpecValue
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit


def values_of(unit: SuspensionUnit) -> Mapping[str, SpecValue]:
    """Current spec values of the unit's model at its travel; none for a model that is not in the specs."""
    if unit.model is None:
        return {}
    return current_values(unit.model, None if unit.travel_m is None else round(unit.travel_m * 1000))


def spec_rows(values: Mapping[str, SpecValue], keys: Iterable[str], shop: Shop) -> list[dict[str, Any]]:
    """Rows of the values table, in the registry's order; `value` is empty for a missing one."""
    rows = []
    for shown in choose(values, keys):
        written = shown.written(shop.unit_for)
        rows.append(
            {
                "key": shown.key,
                "label": written.label,
                "value": " ".join(part for part in (written.number, written.unit) if part) if written.number else "",
                "tolerance": written.tolerance,
                "source": written.source,
                "document": _document_of(shown.value),
                "page": shown.value.source_page if shown.value else "",
                "checked": written.checked,
            }
        )
    return rows


def _document_of(value: SpecValue | None) -> str:
    """The source without its page."""
    return ", ".join(part for part in (value.source_document, value.source_revision) if part) if value else ""


def with_notes(rows: Iterable[dict[str, Any]]) -> tuple[list[dict[str, Any]], list[str]]:
    """Rows with the number of their source and the page in it, and the sources in that order: each printed once."""
    notes: list[str] = []
    numbered = []
    for row in rows:
        if row["document"] and row["document"] not in notes:
            notes.append(row["document"])
        note = str(notes.index(row["document"]) + 1) if row["document"] else ""
        numbered.append({**row, "note": f"{note}, p. {row['page']}" if note and row["page"] else note})
    return numbered, notes
