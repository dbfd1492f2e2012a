"""Loading the tables of a backup into an empty database, and reading every row back."""

from __future__ import annotations

import zipfile
from typing import Any

from django.core.management.color import no_style
from django.core.management.sql import emit_post_migrate_signal
from django.db import DatabaseError, IntegrityError, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from workshop.running.checking import lines_of_member
from workshop.running.manifest import BackupRefused, Manifest
from workshop.running.rows import CHUNK, Digest, RowRefused, insert, read_line, rows_of_table
from workshop.running.tables import (
    LEFT_OUT,
    applied_migrations,
    columns_of,
    known_nodes,
    latest_of_each_app,
    loader_to,
    models_at,
)

_MOST_HELD_BYTES = 16 << 20  # of rows read and not yet inserted: a few hundred of the longest would fill the memory


def load_tables(
    wrapper: BaseDatabaseWrapper, archive: zipfile.ZipFile, manifest: Manifest, *, bring_up_to_date: bool
) -> None:
    """Make the tables as they were, fill them, compare what they hold, and then migrate to today's code.

    Args:
        wrapper: the default database, without any of the shop's tables.
        bring_up_to_date: False leaves the database at the migrations of the backup.

    Raises:
        BackupRefused: a row that does not fit, or a table that reads back differently.
        workshop.running.tables.NewerDatabase: migrations that this code does not know.
    """
    loader = loader_to(wrapper, manifest.migrations)
    nodes = known_nodes(loader, manifest.migrations)
    make_tables(loader, nodes)
    tables = models_at(loader, nodes)
    strange = set(manifest.tables) ^ (set(tables) - LEFT_OUT)
    if strange:
        raise BackupRefused(f"Its tables are not those of its version: {', '.join(sorted(strange)[:3])}.")
    with transaction.atomic():
        _let_references_wait(wrapper)
        _empty(wrapper, list(tables.values()))
        for label in manifest.tables:
            _load(wrapper, archive, label, tables[label])
        _check_references(wrapper)
        _set_next_keys(wrapper, list(tables.values()))
    _compare(manifest, tables)
    if bring_up_to_date:
        executor = MigrationExecutor(wrapper)
        targets = executor.loader.graph.leaf_nodes()
        if executor.migration_plan(targets):
            executor.migrate(targets)
        # What follows a migration: content types of new tables, and the search index.
        emit_post_migrate_signal(verbosity=0, interactive=False, db=wrapper.alias)


def make_tables(loader: MigrationLoader, nodes: list[tuple[str, str]]) -> None:
    """Migrate the loader's database, an empty one, to these nodes."""
    executor = MigrationExecutor(loader.connection)
    executor.loader = loader
    executor.migrate(latest_of_each_app(loader, nodes))


def drop_tables(wrapper: BaseDatabaseWrapper) -> None:
    """Take every table of the shop away, whatever its migrations; other tables of the database stay.

    Raises workshop.running.tables.NewerDatabase: tables of a newer version cannot be named.
    """
    loader = MigrationLoader(wrapper)
    known = models_at(loader, known_nodes(loader, applied_migrations(wrapper)))
    ours = {model._meta.db_table for model in known.values()} | {"django_migrations"}
    quote = wrapper.ops.quote_name
    with wrapper.cursor() as cursor:
        there = sorted(ours & set(wrapper.introspection.table_names(cursor)))
        if there:
            cursor.execute(f"DROP TABLE {', '.join(map(quote, there))} CASCADE")


def _let_references_wait(wrapper: BaseDatabaseWrapper) -> None:
    """Check references at the end, when all rows are there: migrations in the same transaction check them at once."""
    if wrapper.vendor == "postgresql":
        with wrapper.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL DEFERRED")


def _empty(wrapper: BaseDatabaseWrapper, tables: list[type[models.Model]]) -> None:
    """Rows that migrations put there are in the backup, if anybody still wants them."""
    with wrapper.cursor() as cursor:
        for model in tables:
            cursor.execute(f"DELETE FROM {wrapper.ops.quote_name(model._meta.db_table)}")  # noqa: S608  the name of a model’s table


def _load(wrapper: BaseDatabaseWrapper, archive: zipfile.ZipFile, label: str, model: type[models.Model]) -> None:
    columns = columns_of(model)
    rows: list[dict[str, Any]] = []
    number = held = 0
    try:
        for line in lines_of_member(archive, label):
            number, held = number + 1, held + len(line)
            rows.append(read_line(line, columns))
            if len(rows) == CHUNK or held > _MOST_HELD_BYTES:
                insert(wrapper, model, columns, rows)
                rows, held = [], 0
        if rows:
            insert(wrapper, model, columns, rows)
    except RowRefused as refused:
        raise BackupRefused(f"Row {number} or one shortly before it in the table {label}: {refused}.") from refused
    except DatabaseError as error:
        raise BackupRefused(f"The table {label} does not fit into this database, about row {number}.") from error


def _check_references(wrapper: BaseDatabaseWrapper) -> None:
    try:
        wrapper.check_constraints()
    except IntegrityError as error:
        raise BackupRefused("A row in it refers to another that is not in it.") from error


def _set_next_keys(wrapper: BaseDatabaseWrapper, tables: list[type[models.Model]]) -> None:
    """New rows get keys after those of the backup."""
    with wrapper.cursor() as cursor:
        for statement in wrapper.ops.sequence_reset_sql(no_style(), tables):
            cursor.execute(statement)


def _compare(manifest: Manifest, tables: dict[str, type[models.Model]]) -> None:
    """Read every row back and compare count and digest of each table with the backup."""
    for label, facts in manifest.tables.items():
        digest = Digest(columns_of(tables[label]))
        for row in rows_of_table(tables[label]):
            digest.add(row)
        if (digest.rows, digest.sha256) != (facts.rows, facts.rows_sha256):
            raise BackupRefused(f"The table {label} reads back differently from this database.")
