"""Where words of a person stand: planted wherever somebody can type, and looked for in every table, file and PDF."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection, models
from django.db.models import QuerySet
from pypdf import PdfReader

from diagnosis.models import Reading, Tick, ToldOtherwise
from workshop.models import Customer, Visit

_TYPED = (models.CharField, models.TextField)
# What people see of a row, where the row is their own: made by the shop, never typed by anybody.
NEVER_TYPED = {
    "arrangement", "attached", "code", "currency", "data_digest", "digest", "file", "files_to_remove", "kind", "marks",
    "message_id", "paper", "pdf", "role", "search_text", "secret_digest", "tax_name", "thumbnail",
}  # fmt: skip
# A serial, which stays with its unit; keys of ours, or read by a rule that takes only numbers and units; or made by the
# database of other columns.
READ_AS_NUMBERS = {"BoltRecord.typed", "ForkMeasurement.lines", "Reading.key", "Reading.typed", "TicketWords.text",
                   "ToldOtherwise.part", "ToldOtherwise.value", "SuspensionUnit.serial"}  # fmt: skip


def rows_of(customer: Customer) -> Iterator[QuerySet[Any]]:
    """The rows of every table that leads to a customer, by whatever keys; a row may come twice."""
    ways: list[tuple[type[models.Model], str]] = [(Customer, "")]
    known: set[type[models.Model]] = {Customer}
    for model, way in ways:  # grows as it goes
        for relation in model._meta.related_objects:
            there, key = relation.related_model, relation.field.name
            if there is Customer or relation.many_to_many:
                continue
            path = f"{key}__{way}" if way else key
            yield there._base_manager.filter(**{path: customer})
            if there not in known:
                known.add(there)
                ways.append((there, path))
    yield Visit.objects.filter(tickets__customer=customer).distinct()
    runs = customer.tickets.values("ticket_runs__run")
    for record in (Tick, ToldOtherwise, Reading):
        yield record._base_manager.filter(run__in=runs)


def typed_columns(model: type[models.Model]) -> list[Any]:
    return [
        field for field in model._meta.local_concrete_fields
        if isinstance(field, _TYPED) and not field.choices and not field.unique and field.name not in NEVER_TYPED
        and f"{model.__name__}.{field.name}" not in READ_AS_NUMBERS
    ]  # fmt: skip


def plant(customer: Customer, word: str) -> set[str]:
    """Put a word into every column of theirs that somebody types; returns which. Past all functions, as rows were."""
    planted = set()
    for rows in rows_of(customer):
        for row in rows:
            for field in typed_columns(rows.model):
                text = getattr(row, field.name) or ""
                longest = field.max_length or 10_000
                if word not in text and len(word) < longest:
                    rows.model._base_manager.filter(pk=row.pk).update(**{field.name: f"{word} {text}"[:longest]})
                    planted.add(f"{rows.model.__name__}.{field.name}")
    return planted


def in_the_database(words: Iterable[str]) -> list[str]:
    """“table.column: text” for every cell of every table, those of the search too, in which a word stands."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            if table.endswith("_trigrams"):  # SQLite's own index, which says only whether it has a word
                for word in words:
                    threes = " AND ".join(f'"{word[at : at + 3].casefold()}"' for at in range(len(word) - 2))
                    cursor.execute(f"SELECT count(*) FROM {table} WHERE {table} MATCH %s", [threes])  # noqa: S608  a table of ours
                    found += [f"{table}: {word}"] * cursor.fetchone()[0]
                continue
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608  a table of ours
            names = [column[0] for column in cursor.description]
            for row in cursor.fetchall():
                found += [f"{table}.{name}: {cell!s:.120}" for name, cell in zip(names, row, strict=False)
                          if isinstance(cell, str | bytes | list | dict) and _speaks(str(cell), words)]  # fmt: skip
    return found


def in_files(words: Iterable[str], *folders: Path) -> list[str]:
    """Files whose bytes, text of a PDF or members of a zip have a word in them."""
    return [
        str(path) for folder in folders for path in folder.rglob("*") if path.is_file()
        and any(_speaks(text, words) for text in texts_of(path.name, path.read_bytes()))
    ]  # fmt: skip


def texts_of(name: str, content: bytes) -> Iterator[str]:
    yield name
    yield content.decode("utf-8", errors="ignore")
    if content.startswith(b"%PDF") and b"startxref" in content:  # a stub of one has no pages
        yield "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    if content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for member in archive.namelist():
                yield from texts_of(member, archive.read(member))


def media() -> Path:
    return Path(settings.MEDIA_ROOT)


def _speaks(text: str, words: Iterable[str]) -> bool:
    folded = text.casefold()
    return any(word.casefold() in folded for word in words)
