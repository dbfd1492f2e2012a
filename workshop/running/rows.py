"""Rows as lines of JSON that no database has a say in, and back."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.tables import Field, columns_of

CHUNK = 1000


class RowRefused(ValueError):
    """A line that is no row of its table."""


class Digest:
    """SHA-256 and count of the rows of a table, the same from SQLite and PostgreSQL.

    PostgreSQL keeps the keys of a JSON document in an order of its own and writes 1e16 in full, so documents are
    digested with sorted keys and whole numbers as such.
    """

    def __init__(self, columns: Mapping[str, Field]) -> None:
        self.rows = 0
        self._hash = hashlib.sha256()
        self._documents = [name for name, field in columns.items() if isinstance(field, models.JSONField)]

    def add(self, row: Mapping[str, Any]) -> None:
        plain = {**row, **{name: _same_everywhere(row[name]) for name in self._documents}}
        self._hash.update(_dump(plain, sort_keys=True).encode())
        self.rows += 1

    @property
    def sha256(self) -> str:
        return self._hash.hexdigest()


def rows_of_table(model: type[models.Model]) -> Iterator[dict[str, Any]]:
    """Rows in the order of their key, as JSON values by column; never more than a chunk in memory."""
    columns = columns_of(model)
    query = model._base_manager.order_by("pk").values_list(*(field.attname for field in columns.values()))
    for values in query.iterator(chunk_size=CHUNK):
        yield {name: _to_json(value) for name, value in zip(columns, values, strict=True)}


def line_of_row(row: Mapping[str, Any]) -> bytes:
    return _dump(row, sort_keys=False).encode() + b"\n"


def read_line(line: bytes, columns: Mapping[str, Field]) -> dict[str, Any]:
    """The row in a line. Raises RowRefused unless it has exactly these columns."""
    try:
        row = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise RowRefused("it is not JSON") from error
    if not isinstance(row, dict) or set(row) != set(columns):
        raise RowRefused("its columns are not those of the table")
    return row


def insert(
    wrapper: BaseDatabaseWrapper, model: type[models.Model], columns: Mapping[str, Field], rows: list[dict[str, Any]]
) -> None:
    """Insert rows as they are, keys and times included. Raises RowRefused for a value its column cannot hold."""
    quote = wrapper.ops.quote_name
    names = ", ".join(quote(name) for name in columns)
    marks = ", ".join(["%s"] * len(columns))
    values = [tuple(_to_column(row[name], field, wrapper) for name, field in columns.items()) for row in rows]
    with wrapper.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {quote(model._meta.db_table)} ({names}) VALUES ({marks})", values)  # noqa: S608  the name of a model’s table


def _to_column(value: Any, field: Field, wrapper: BaseDatabaseWrapper) -> Any:
    if value is None:
        return None
    if not isinstance(field, models.JSONField) and isinstance(value, dict | list):
        raise RowRefused(f"{field.column} cannot hold a list")
    try:
        return field.get_db_prep_save(field.to_python(value), wrapper)
    except (ValidationError, ValueError, TypeError, OverflowError, ArithmeticError) as error:
        raise RowRefused(f"{field.column} cannot hold what is there") from error


def _to_json(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, Decimal | uuid.UUID):
        return str(value)
    if value is None or isinstance(value, bool | int | float | str | dict | list):
        return value
    raise TypeError(f"A backup has no way yet to write a {type(value).__name__}.")


def _same_everywhere(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _same_everywhere(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_same_everywhere(item) for item in value]
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _dump(row: Mapping[str, Any], *, sort_keys: bool) -> str:
    return json.dumps(row, ensure_ascii=False, sort_keys=sort_keys, separators=(",", ":"))
