"""The search index on PostgreSQL: GIN indexes of trigrams (pg_trgm), and triggers that keep the words of tickets."""

from __future__ import annotations

from django.db import DatabaseError, connection, transaction

from workshop.migrating.functions import drop_trigger, mark_of_trigger, put_trigger, triggers_there
from workshop.migrating.held import hold_tables
from workshop.searching.sources import SOURCES, WORDS_OF_TICKETS

WANTING = "PostgreSQL’s pg_trgm is not there, and this user may not create it"

_WORDS = f"SELECT t.id, t.shop_id, {WORDS_OF_TICKETS}"
_PUT = """INSERT INTO workshop_ticketwords (ticket_id, shop_id, text) {words}
    ON CONFLICT (ticket_id) DO UPDATE SET text = excluded.text;"""

SAMPLES = 300

# Trigger name -> table, when it fires, what it does.
_TRIGGERS = {
    "search_ticket_added": (
        "workshop_ticket",
        "AFTER INSERT ON workshop_ticket FOR EACH ROW",
        _PUT.format(words=f"{_WORDS} WHERE t.id = new.id"),
    ),
    "search_ticket_changed": (
        "workshop_ticket",
        "AFTER UPDATE OF search_text, customer_id, unit_id ON workshop_ticket FOR EACH ROW WHEN "
        "((old.search_text, old.customer_id, old.unit_id) IS DISTINCT FROM "
        "(new.search_text, new.customer_id, new.unit_id))",
        _PUT.format(words=f"{_WORDS} WHERE t.id = new.id"),
    ),
    "search_ticket_removed": (
        "workshop_ticket",
        "AFTER DELETE ON workshop_ticket FOR EACH ROW",
        "DELETE FROM workshop_ticketwords WHERE ticket_id = old.id;",
    ),
    "search_customer_of_ticket_changed": (
        "workshop_customer",
        "AFTER UPDATE OF search_text ON workshop_customer FOR EACH ROW "
        "WHEN (old.search_text IS DISTINCT FROM new.search_text)",
        _PUT.format(words=f"{_WORDS} WHERE t.customer_id = new.id"),
    ),
    "search_unit_of_ticket_changed": (
        "workshop_suspensionunit",
        "AFTER UPDATE OF search_text ON workshop_suspensionunit FOR EACH ROW "
        "WHEN (old.search_text IS DISTINCT FROM new.search_text)",
        _PUT.format(words=f"{_WORDS} WHERE t.unit_id = new.id"),
    ),
}


def remove() -> None:
    """Take triggers and indexes away: a column that a trigger names cannot be altered."""
    with connection.cursor() as cursor:
        for name in _TRIGGERS:
            drop_trigger(name)
        for source in SOURCES:
            cursor.execute(f"DROP INDEX IF EXISTS {source.trigrams}")


def install() -> str:
    """Make all of it anew and fill it; returns why there are no trigrams, empty where there are.

    Nothing is written in between; a transaction has to be open.
    """
    hold_tables({table for table, _, _ in _TRIGGERS.values()} | {source.table for source in SOURCES})
    remove()
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # no table is emptied, no index made, while checks are pending
        cursor.execute("TRUNCATE workshop_ticketwords")
        cursor.execute(f"INSERT INTO workshop_ticketwords (ticket_id, shop_id, text) {_WORDS} ORDER BY t.id")
        for name, (_, when, does) in _TRIGGERS.items():
            put_trigger(name, when, does)
        try:
            with transaction.atomic():
                cursor.execute("CREATE EXTENSION IF NOT EXISTS pg_trgm")
                for source in SOURCES:
                    # Without fastupdate, which would let each search read a list of what is not in the index yet.
                    cursor.execute(
                        f"CREATE INDEX {source.trigrams} ON {source.table} "
                        f"USING gin ((' ' || {source.text}) gin_trgm_ops) WITH (fastupdate = off)"
                    )
                    # With fewer samples it takes one row in a hundred to hold anything, and reads all for the rare.
                    cursor.execute(f"ALTER INDEX {source.trigrams} ALTER COLUMN 1 SET STATISTICS {SAMPLES}")
        except DatabaseError as problem:
            return f"{WANTING}: {str(problem).strip().splitlines()[0]}"
        for source in SOURCES:
            cursor.execute(f"ANALYZE {source.table}")
    return ""


def is_installed() -> bool:
    """Whether all of the triggers are there and do what they should; a table made anew takes its own with it."""
    wanted = {name: mark_of_trigger(when, does) for name, (_, when, does) in _TRIGGERS.items()}
    return wanted.items() <= triggers_there().items()
