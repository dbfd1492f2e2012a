"""Whether the shop that lives in this data folder is there, so that nobody starts an empty one over a lost one.

A small file in the data folder names the shop that lives here, and its database. It is written once there is a shop;
where it is, or a journal or photos are, an empty or missing database is a lost one. Nothing here makes a database:
SQLite makes a file as soon as one asks it anything, so the file is looked for first.
"""

from __future__ import annotations

from django.db import DatabaseError, InterfaceError, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from workshop.running.databases import described, sqlite_file
from workshop.running.lives_here import marker_file, who_lives_here
from workshop.running.stored import files_place, stored_files
from workshop.running.tables import NewerDatabase, applied_migrations, open_migrations
from workshop.web.storage import StoreAway

LOOK = "Look at DATA_DIR and DATABASE_URL."
POOLED = "PgBouncer answers there: set DATABASE_POOLED=1, and PgBouncer up as .examples/pgbouncer.ini says."


class NotUsable(Exception):
    """The database cannot be worked with as it is; the message says why and what to do. Nothing was made or changed."""


def check_may_begin() -> None:
    """Before tables are made or brought up to date: not where a shop was lost, nor with code older than the database.

    Raises NotUsable.
    """
    wrapper = connections["default"]
    if not has_tables(wrapper):
        _refuse_where_a_shop_was(wrapper, _lone_journal(wrapper))
        return
    _refuse_newer(wrapper)
    if not _has_shop(wrapper):
        _refuse_where_a_shop_was(wrapper)


def check_ready() -> None:
    """For a command that works in the shop: its tables are there and are those of this code. Raises NotUsable."""
    check_may_begin()
    wrapper = connections["default"]
    if not has_tables(wrapper):
        raise NotUsable(
            f"There is no shop in {described(wrapper)}. {LOOK} For a new shop, start the server first: "
            "python3 manage.py serve."
        )
    waiting = len(open_migrations(wrapper))
    if waiting:
        raise NotUsable(
            f"The database is {waiting} migration{'' if waiting == 1 else 's'} behind this version. With the server "
            "stopped, run: python3 manage.py upgrade"
        )


def has_tables(wrapper: BaseDatabaseWrapper) -> bool:
    """Whether the shop's tables are there; a missing file is not made. Raises NotUsable where nothing answers."""
    if wrapper.vendor == "sqlite":
        try:
            if sqlite_file(wrapper).stat().st_size == 0:
                return False
        except FileNotFoundError:
            return False
    try:
        with wrapper.cursor() as cursor:
            return "workshop_shop" in wrapper.introspection.table_names(cursor)
    except (DatabaseError, InterfaceError) as error:
        said = str(error).strip().partition("\n")[0]
        look = POOLED if "unsupported startup parameter" in said else LOOK
        raise NotUsable(f"The database does not answer ({described(wrapper)}): {said}. {look}") from error


def _has_shop(wrapper: BaseDatabaseWrapper) -> bool:
    with wrapper.cursor() as cursor:
        cursor.execute("SELECT EXISTS (SELECT 1 FROM workshop_shop)")
        return bool(cursor.fetchone()[0])


def _refuse_newer(wrapper: BaseDatabaseWrapper) -> None:
    try:
        applied_migrations(wrapper)
    except NewerDatabase as newer:
        raise NotUsable(
            f"This database cannot be used by this version. {newer} Put the newer version in place, or restore a "
            "backup made by this one."
        ) from newer


def _refuse_where_a_shop_was(wrapper: BaseDatabaseWrapper, sign: str = "") -> None:
    sign = sign or _sign_of_a_shop(wrapper)
    if sign:
        raise NotUsable(
            f"{sign} No empty shop is made in its place. Put the database back where it was, or bring a backup back: "
            f"python3 manage.py restore --replace FILE. {LOOK} For a new, empty shop take another, empty folder."
        )


def _lone_journal(wrapper: BaseDatabaseWrapper) -> str:
    """A journal without its database, in words: SQLite would overwrite it with that of a new one."""
    if wrapper.vendor == "sqlite":
        main = sqlite_file(wrapper)
        for end in ("-wal", "-journal"):
            journal = main.with_name(f"{main.name}{end}")
            if journal.exists():
                return f"The journal {journal} is there, and its database {main} is missing or empty: it was moved."
    return ""


def _sign_of_a_shop(wrapper: BaseDatabaseWrapper) -> str:
    """What says that a shop was here, in words; empty where nothing does."""
    place = described(wrapper)
    known = who_lives_here()
    if known is not None:
        moved = "which is missing or empty now" if known.database == place else f"and {place} has no shop in it"
        return f"{known.who} lives in this folder, in {known.database}, {moved} ({marker_file()})."
    try:
        if any(True for _ in stored_files()):
            return f"Photos and documents of a shop are in {files_place()}, and there is no shop in {place}."
    except StoreAway as away:
        return f"Whether photos and documents of a shop are in {files_place()} cannot be seen. {away.words}"
    return ""
