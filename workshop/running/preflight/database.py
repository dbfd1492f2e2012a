"""Whether the database is the shop's own, of an age that this code can work with, whole, and free to be written."""

from __future__ import annotations

import os
from collections.abc import Iterator

from django.apps import apps
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.exceptions import InconsistentMigrationHistory
from django.db.migrations.loader import MigrationLoader

from workshop.migrating.rights import may_alter_tables
from workshop.running.databases import described, sqlite_file
from workshop.running.lives_here import first_moment, marker_file, who_lives_here
from workshop.running.preflight.findings import Purpose, StartFinding
from workshop.running.whereabouts import LOOK, NotUsable, check_may_begin, has_tables
from workshop.running.whole_check import check_pages_at_start, damage_in_words
from workshop.staff.models import Shop

SUBJECT = "Database"
_BEGINS = {Purpose.SERVE, Purpose.UPGRADE}
_WRITES = {*_BEGINS, Purpose.RESTORE}
_NAMED = 3


def is_there(purpose: Purpose) -> Iterator[StartFinding]:
    """A shop's tables, or an empty place where none was lost; nothing is made by asking."""
    wrapper = connections["default"]
    try:
        check_may_begin()
        if purpose not in _BEGINS and not has_tables(wrapper):
            yield StartFinding(SUBJECT, f"There is no shop in {described(wrapper)}.", LOOK, stops=True)
    except NotUsable as reason:
        yield StartFinding(SUBJECT, str(reason), stops=True)


def answers(purpose: Purpose) -> Iterator[StartFinding]:
    """Whether PostgreSQL lets anybody in who would restore into it; of a SQLite file anything may be broken then."""
    wrapper = connections["default"]
    try:
        if wrapper.vendor == "postgresql":
            has_tables(wrapper)
    except NotUsable as reason:
        yield StartFinding(SUBJECT, str(reason), stops=True)


def takes_writes(purpose: Purpose) -> Iterator[StartFinding]:
    """Whether PostgreSQL takes what is written: it may be a standby, or be set to be read only."""
    wrapper = connections["default"]
    if wrapper.vendor != "postgresql":
        return
    with wrapper.cursor() as cursor:
        cursor.execute("SELECT pg_is_in_recovery(), current_setting('transaction_read_only')::boolean")
        is_standby, is_read_only = cursor.fetchone()
    stops = purpose in _WRITES
    if is_standby:
        todo = "Name the server that takes writes in DATABASE_URL, or promote this one (pg_ctl promote)."
        yield StartFinding(SUBJECT, f"{described(wrapper)} is a standby, which is only read.", todo, stops=stops)
    elif is_read_only:
        todo = "Somebody set default_transaction_read_only, for the database, its user or the server: take that back."
        yield StartFinding(SUBJECT, f"{described(wrapper)} is set to be read only.", todo, stops=stops)


def journals(purpose: Purpose) -> Iterator[StartFinding]:
    """SQLite's journals: a start reads on from one that a power cut left, where it may write to it."""
    wrapper = connections["default"]
    if wrapper.vendor != "sqlite" or wrapper.is_in_memory_db():  # type: ignore[attr-defined]
        return
    main = sqlite_file(wrapper)
    parts = [main, *(main.with_name(f"{main.name}{end}") for end in ("-wal", "-shm", "-journal"))]
    closed = [part for part in parts if part.exists() and not os.access(part, os.R_OK | os.W_OK)]
    if closed:
        names = ", ".join(str(part) for part in closed)
        todo = f"Give them to the user that the shop runs as, such as: chown --reference={main.parent} {main}*"
        yield StartFinding("Journal", f"{names} cannot be read and written.", todo, stops=purpose is not Purpose.PAGE)
    if (main.with_name(f"{main.name}-journal")).exists() and (main.with_name(f"{main.name}-wal")).exists():
        yield StartFinding(
            "Journal",
            f"{main} has two kinds of journal beside it: one of them is another database’s.",
            "Do not start anything on it. Restore the newest backup, or ask somebody who knows SQLite.",
            stops=purpose in _BEGINS,
        )


def is_ours(purpose: Purpose) -> Iterator[StartFinding]:
    """Whether it is the database that lived here before."""
    wrapper, known = connections["default"], who_lives_here()
    if known is None or not known.first_moment or not has_tables(wrapper):
        return
    if first_moment(wrapper) == known.first_moment:
        return
    names = " and ".join(f"“{name}”" for name in Shop.objects.order_by("pk").values_list("name", flat=True)[:_NAMED])
    yield StartFinding(
        SUBJECT,
        f"{known.who} lives in this folder, and {described(wrapper)} is another database, with {names or 'no shop'} "
        f"in it ({marker_file()}).",
        f"Put the right one back, or bring a backup back: python3 manage.py restore --replace FILE. {LOOK} If it was "
        "replaced on purpose: python3 manage.py check_shop --accept.",
        stops=purpose is not Purpose.PAGE,
        by_choice=True,
    )


def age(purpose: Purpose) -> Iterator[StartFinding]:
    """Behind the code, or with gaps between its migrations, which nothing that goes by order makes."""
    wrapper = connections["default"]
    if not has_tables(wrapper):
        return
    try:
        loader = MigrationLoader(wrapper)
        loader.check_consistent_history(wrapper)
    except InconsistentMigrationHistory as gap:
        yield StartFinding(
            SUBJECT,
            f"A migration is missing in it ({str(gap).rstrip('.')}): it was altered by hand, or an upgrade broke off.",
            "Restore the newest backup: python3 manage.py restore --replace FILE.",
            stops=purpose is not Purpose.PAGE,
        )
        return
    waiting = len(loader.graph.nodes.keys() - loader.applied_migrations.keys())
    behind = f"It is {waiting} migration{'' if waiting == 1 else 's'} behind this version"
    if waiting and not may_alter_tables(wrapper):
        todo = "Once for all machines, as the user who owns the tables, run: python3 manage.py migrate"
        words = f"{behind}, and its user “{wrapper.settings_dict['USER']}” may not alter tables."
        yield StartFinding(SUBJECT, words, todo, stops=purpose in _BEGINS)
    elif waiting and purpose is Purpose.CHECK:
        yield StartFinding(SUBJECT, f"{behind}.", "With the server stopped, run: python3 manage.py upgrade")
    if not waiting:
        yield from _half_migrated(wrapper, purpose)


def _half_migrated(wrapper: BaseDatabaseWrapper, purpose: Purpose) -> Iterator[StartFinding]:
    lacking = what_is_lacking(wrapper)
    if lacking:
        more = f" and {len(lacking) - _NAMED} more" if len(lacking) > _NAMED else ""
        yield StartFinding(
            SUBJECT,
            f"It says that every migration was made, and lacks {', '.join(lacking[:_NAMED])}{more}: one was made half.",
            "Restore the newest backup, of before the upgrade: python3 manage.py restore --replace FILE.",
            stops=purpose is not Purpose.PAGE,
        )


def what_is_lacking(wrapper: BaseDatabaseWrapper) -> list[str]:
    """Tables and columns of today's models that the database does not have."""
    there = _columns_there(wrapper)
    lacking = []
    for model in apps.get_models(include_auto_created=True):
        if not model._meta.managed or model._meta.proxy:
            continue
        table = model._meta.db_table
        if table not in there:
            lacking.append(f"the table {table}")
            continue
        columns = {field.column for field in model._meta.local_concrete_fields if field.column}
        lacking += [f"{table}.{column}" for column in sorted(columns - there[table])]
    return lacking


def _columns_there(wrapper: BaseDatabaseWrapper) -> dict[str, set[str]]:
    """Every column by its table, in one question."""
    if wrapper.vendor == "sqlite":
        question = (
            "SELECT t.name, c.name FROM sqlite_master t, pragma_table_xinfo(t.name) c "
            "WHERE t.type = 'table' AND t.name NOT LIKE '%%trigrams%%'"
        )
    else:
        question = (
            "SELECT c.relname, a.attname FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid "
            "WHERE c.relkind IN ('r', 'p') AND a.attnum > 0 AND NOT a.attisdropped AND pg_table_is_visible(c.oid)"
        )
    found: dict[str, set[str]] = {}
    with wrapper.cursor() as cursor:
        cursor.execute(question, [])
        for table, column in cursor.fetchall():
            found.setdefault(table, set()).add(column)
    return found


def pages(purpose: Purpose) -> Iterator[StartFinding]:
    """Damaged pages. A damaged shop is served all the same, with what can be read, but never migrated."""
    if has_tables(connections["default"]):
        for said in damage_in_words(check_pages_at_start()):
            yield StartFinding(SUBJECT, said, stops=purpose is Purpose.UPGRADE)
