"""For migrations that add a rule: rows that break it are counted, set right, and what they were is kept.

By one of these rules, in this order: a number or a word that can be left empty becomes empty, for a missing value is
shown as missing; one that cannot takes the nearest number allowed, or the word that promises least. The old value
stays in MendedValue. No rule compares two moments: a clock is set back now and then, and work goes on all the same.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

CHUNK = 500


@dataclass(frozen=True)
class Rule:
    """A constraint by its name, the rows that break it, and what such a row becomes: fields with new values."""

    name: str
    model: str
    broken: Callable[[QuerySet[Any]], QuerySet[Any]]
    becomes: Callable[[Any], Mapping[str, Any]]


def set_right(apps: Any, schema_editor: Any, rules: Sequence[Rule]) -> None:
    """Set right, rule by rule, every row that breaks one; say how many there were."""
    using = schema_editor.connection.alias
    for rule in rules:
        rows = apps.get_model(rule.model).objects.using(using)
        broken = list(rule.broken(rows).order_by("pk").values_list("pk", flat=True))
        for start in range(0, len(broken), CHUNK):
            for row in rows.filter(pk__in=broken[start : start + CHUNK]).order_by("pk"):
                change(apps, using, rule.name, row, rule.becomes(row))
        if broken:
            sys.stdout.write(f"    {rule.name}: {len(broken):,} old rows set right; what they were is kept.\n")


def change(apps: Any, using: str, rule: str, row: Any, becomes: Mapping[str, Any]) -> None:
    """Give a row other values, and keep those it had."""
    table = row._meta.label_lower
    was = {field: getattr(row, field) for field in becomes}
    type(row).objects.using(using).filter(pk=row.pk).update(**becomes)
    apps.get_model("specs.MendedValue").objects.using(using).bulk_create(
        apps.get_model("specs.MendedValue")(
            rule=rule, table=table, row=row.pk, field=field, was=_json(was[field]), became=_json(value)
        )
        for field, value in becomes.items()
        if was[field] != value
    )


def outside(allowed: Q) -> Callable[[QuerySet[Any]], QuerySet[Any]]:
    """Rows that a check does not allow."""
    return lambda rows: rows.exclude(allowed)


def repeats(*fields: str, among: Q) -> Callable[[QuerySet[Any]], QuerySet[Any]]:
    """All but the first of the rows that have these fields in common."""

    def broken(rows: QuerySet[Any]) -> QuerySet[Any]:
        same = {field: OuterRef(field) for field in fields}
        return rows.filter(among).filter(Exists(rows.filter(among, pk__lt=OuterRef("pk"), **same)))

    return broken


def nearest(field: str, least: int, most: int | None = None) -> Callable[[Any], Mapping[str, Any]]:
    """The nearest number that is allowed."""

    def becomes(row: Any) -> Mapping[str, Any]:
        raised = max(getattr(row, field), least)
        return {field: raised if most is None else min(raised, most)}

    return becomes


def emptied(*fields: str, where: Callable[[Any], bool]) -> Callable[[Any], Mapping[str, Any]]:
    """Those of the fields that hold a value for which `where` is true become empty."""
    return lambda row: {f: None for f in fields if getattr(row, f) is not None and where(getattr(row, f))}


def next_number(field: str, *within: str) -> Callable[[Any], Mapping[str, Any]]:
    """Number 1 if no row with the same `within` has it, else the one after the highest."""

    def becomes(row: Any) -> Mapping[str, Any]:
        rows = (
            type(row)
            .objects.using(row._state.db)
            .filter(**{name: getattr(row, name) for name in within})
            .exclude(pk=row.pk)
        )
        taken = set(rows.values_list(field, flat=True))
        return {field: 1 if 1 not in taken else max(taken) + 1}

    return becomes


def below_zero(value: Any) -> bool:
    return bool(value < 0)


def not_above_zero(value: Any) -> bool:
    return bool(value <= 0)


def _json(value: Any) -> str:
    return json.dumps(value, default=str, ensure_ascii=False)
