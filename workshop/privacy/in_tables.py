"""What is held of a person as CSV tables, made of the same plain data as the JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder

from specs.value_files import safe_cell

Table = list[dict[str, str]]


def tables_of(data: Mapping[str, Any]) -> dict[str, list[list[str]]]:
    """Tables by name, each with its heads first; a list within a ticket is a table of its own, with its number.

    What is neither a table nor a single value, such as the answers of a checklist, stands in its cell as JSON.
    """
    found: dict[str, Table] = {}
    for name, value in data.items():
        if isinstance(value, Mapping) and all(isinstance(part, list) for part in value.values()):
            for part, rows in value.items():
                _add(found, f"{name}_{part}", rows)
        else:
            _add(found, name, value if isinstance(value, list) else [value])
    return {name: _with_heads(rows) for name, rows in found.items() if rows}


def _add(found: dict[str, Table], name: str, rows: Iterable[Any], ticket: Mapping[str, str] | None = None) -> None:
    table = found.setdefault(name, [])
    for row in rows:
        columns = row if isinstance(row, Mapping) else {name: row}
        cells = dict(ticket or {})
        for column, value in columns.items():
            if name == "tickets" and isinstance(value, list) and any(isinstance(one, Mapping) for one in value):
                _add(found, f"tickets_{column}", value, {"ticket_number": str(row["number"])})
            else:
                cells[column] = _cell(value)
        table.append(cells)


def _with_heads(rows: Table) -> list[list[str]]:
    heads = list(dict.fromkeys(name for row in rows for name in row))
    return [heads, *([row.get(name, "") for name in heads] for row in rows)]


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | dict | tuple):
        return safe_cell(json.dumps(value, cls=DjangoJSONEncoder, ensure_ascii=False)) if value else ""
    text = json.dumps(value, cls=DjangoJSONEncoder, ensure_ascii=False)
    plain = json.loads(text) if text.startswith('"') else text
    return plain if isinstance(value, int | float) else safe_cell(plain)
