"""Every table of the shop as it is kept, so that nothing stays behind: which, their columns, and what they point at."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator
from decimal import Decimal
from functools import cache
from typing import Any

from django.apps import apps
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from specs.value_files import safe_cell
from workshop.moving.layout_files import in_batches
from workshop.sheets.models import OldNumber, Sheet, SheetChunk, SheetRow
from workshop.staff.models import Shop
from workshop.tickets.models import TicketRun

# Secrets by which somebody could enter; what the database keeps of other tables; files that were brought in.
LEFT_OUT = frozenset({
    "SecondFactor", "RecoveryCode", "CustomerLink", "WrongLink", "DueUnit", "UnitChanged", "LastVisit", "StockLevel",
    "TicketWords", "MendedValue", "OpenSession", "KnownBrowser", "ScheduledRun", "SharedKey",
    "ShippedEdition",
    *(model.__name__ for model in (Sheet, SheetRow, SheetChunk, OldNumber)),
})  # fmt: skip
COLUMNS_LEFT_OUT = frozenset({"password", "search_text", "client_id", "sent_id", "claim"})
_OF_A_TICKET = ("Run", "Tick", "Reading", "StepTimer", "MinutesCorrection", "ToldOtherwise")
_UNITS = {
    "_m": "m", "_m3": "m³", "_mm": "mm", "_ml": "ml", "_kg": "kg", "_pa": "Pa", "_si": "SI, by the quantity",
    "_k": "K", "_nm": "N·m", "_n": "N", "_s": "s", "_percent": "%", "_mm3": "mm³", "_days": "days",
}  # fmt: skip
Field = models.Field[Any, Any]
Table = type[models.Model]


@cache
def tables() -> tuple[Table, ...]:
    """Every table that is written, in the order of their names; the lists in between two of them, too."""
    found = [
        model
        for app in ("specs", "diagnosis", "workshop")
        for model in apps.get_app_config(app).get_models(include_auto_created=True)
        if model.__name__ not in LEFT_OUT and not (model._meta.auto_created and "User_" in model.__name__)
    ]
    return tuple(sorted(found, key=file_of))


def file_of(table: Table) -> str:
    return f"tables/{table._meta.db_table}.csv"


def columns_moved(table: Table) -> list[Field]:
    return [field for field in table._meta.concrete_fields if field.name not in COLUMNS_LEFT_OUT]


def points_at(field: Field) -> str:
    """The file and column whose rows it names."""
    other = field.related_model
    if not isinstance(other, type) or not issubclass(other, models.Model) or other.__name__ in LEFT_OUT:
        return ""
    return f"{file_of(other)}, {other._meta.pk.attname}" if other in tables() else ""


def unit_of_column(field: Field) -> str:
    if isinstance(field, models.DateTimeField):
        return "moment, in UTC"
    if isinstance(field, models.DateField):
        return "day"
    if isinstance(field, models.JSONField):
        return "JSON"
    if isinstance(field, models.BooleanField):
        return "yes or no"
    ends = [end for end in _UNITS if field.name.endswith(end)]
    return _UNITS[max(ends, key=len)] if ends and isinstance(field, models.FloatField | models.IntegerField) else ""


def rows_moved(table: Table, shop: Shop) -> models.QuerySet[Any]:
    """The rows of a table that are the shop's; those that every shop of the database shares are all of it."""
    rows = table._base_manager.all()
    if table is Shop:
        return rows.filter(pk=shop.pk)
    if table.__name__ in _OF_A_TICKET:
        runs = TicketRun.objects.filter(ticket__shop=shop).values("run")
        return rows.filter(**{"pk__in" if table.__name__ == "Run" else "run__in": runs})
    way = way_to_the_shop(table)
    return rows.filter(**{way: shop}) if way else rows


@cache
def way_to_the_shop(table: Table) -> str:
    """The shortest way by columns that are always filled; empty for what all shops share."""
    ways: list[tuple[str, Table]] = [("", table)]
    seen = {table}
    for way, model in ways:  # grows as it goes
        for field in model._meta.concrete_fields:
            other = field.related_model
            if isinstance(other, type) and (not field.null or field.name == "shop"):
                if other is Shop:
                    return f"{way}{field.name}"
                if other in seen:
                    continue
                seen.add(other)
                ways.append((f"{way}{field.name}__", other))
    return ""


def batches_of(table: Table, shop: Shop) -> Iterator[list[list[str]]]:
    columns = columns_moved(table)
    for batch in in_batches(rows_moved(table, shop)):
        yield [[_text(field.value_from_object(row)) for field in columns] for row in batch]


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, str):
        return safe_cell(value)
    if isinstance(value, dict | list):
        return safe_cell(json.dumps(value, cls=DjangoJSONEncoder, ensure_ascii=False))
    return safe_cell(str(value))


def columns_described() -> Iterable[tuple[str, str, str, str, str]]:
    """File, column, what it is, unit, what it points at; of every table."""
    for table in tables():
        for field in columns_moved(table):
            words = str(field.help_text or "") or str(field.verbose_name)
            choices = ", ".join(str(key) for key, _ in (field.choices or ()) if key != "")
            said = f"{words} One of: {choices}." if choices and len(choices) < 300 else words
            yield file_of(table), field.attname, said, unit_of_column(field), points_at(field)
