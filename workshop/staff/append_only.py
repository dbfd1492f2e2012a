"""The database itself refuses to change or delete a line of the security log, on both databases."""

from __future__ import annotations

from typing import Any

from django.db import connection, transaction

from workshop.migrating.functions import triggers_there
from workshop.migrating.held import hold_tables
from workshop.migrating.touching import must_go

TABLE = "workshop_securityevent"
TRIGGERS = ("security_log_unchanged", "security_log_undeleted", "security_log_unemptied")
_EVENTS = ("UPDATE", "DELETE", "TRUNCATE")
_WORDS = "the security log is only added to"


@transaction.atomic
def install() -> None:
    """Put the triggers there, anew where they are."""
    hold_tables([TABLE])
    remove()
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                f"CREATE FUNCTION {TABLE}_refuses() RETURNS trigger LANGUAGE plpgsql "
                f"AS $$ BEGIN RAISE EXCEPTION '{_WORDS}'; END $$"
            )
        for statement in _postgresql_triggers() if connection.vendor == "postgresql" else sqlite_triggers():
            cursor.execute(statement)


def sqlite_triggers() -> list[str]:
    """The statements that make them; SQLite has no TRUNCATE."""
    return [
        f"CREATE TRIGGER {name} BEFORE {event} ON {TABLE} FOR EACH ROW BEGIN SELECT RAISE(ABORT, '{_WORDS}'); END"
        for name, event in zip(TRIGGERS[:2], _EVENTS[:2], strict=True)
    ]


def _postgresql_triggers() -> list[str]:
    return [
        f"CREATE TRIGGER {name} BEFORE {event} ON {TABLE} FOR EACH {'STATEMENT' if event == 'TRUNCATE' else 'ROW'} "
        f"EXECUTE FUNCTION {TABLE}_refuses()"
        for name, event in zip(TRIGGERS, _EVENTS, strict=True)
    ]


@transaction.atomic
def remove() -> None:
    """Take the triggers away, before tables are altered."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"DROP FUNCTION IF EXISTS {TABLE}_refuses() CASCADE")
        else:
            for name in TRIGGERS:
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}")


def is_installed() -> bool:
    """Whether all of the triggers are there: a table that is made anew takes its own with it."""
    wanted = TRIGGERS if connection.vendor == "postgresql" else TRIGGERS[:2]
    return set(wanted) <= triggers_there().keys()


def before_migrating(plan: list[tuple[Any, bool]], **kwargs: Any) -> None:
    """Take them away where the plan cannot be followed beside them; a migration may have to mend rows."""
    if must_go(plan, apps={"workshop"}, by_rows_too=True):
        remove()


def after_migrating(**kwargs: Any) -> None:
    """Put back what the migrations took away; the first migration of all leads here too."""
    if TABLE in connection.introspection.table_names() and not is_installed():
        install()
