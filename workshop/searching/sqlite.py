"""The search index on SQLite: full-text tables of trigrams (FTS5), kept by triggers."""

from __future__ import annotations

from django.db import DatabaseError, connection, transaction

from workshop.searching.sources import SOURCES, WORDS_OF_TICKETS, SearchSource

WANTING = "This SQLite has no full-text search by trigrams (FTS5, since 3.34)"

_WORDS = f"SELECT {WORDS_OF_TICKETS} WHERE t.id = {{ticket}}"

# Trigger name -> when it fires and what it does.
_TICKET_WORDS = {
    "search_ticket_added": f"""AFTER INSERT ON workshop_ticket BEGIN
    INSERT INTO workshop_ticketwords (ticket_id, shop_id, text)
    SELECT new.id, new.shop_id, words.* FROM ({_WORDS.format(ticket="new.id")}) words; END""",  # noqa: S608  fixed names
    "search_ticket_changed": f"""AFTER UPDATE OF search_text, customer_id, unit_id ON workshop_ticket
    WHEN (old.search_text, old.customer_id, old.unit_id) IS NOT (new.search_text, new.customer_id, new.unit_id) BEGIN
    UPDATE workshop_ticketwords SET text = ({_WORDS.format(ticket="new.id")}) WHERE ticket_id = new.id; END""",  # noqa: S608  fixed names
    "search_ticket_removed": """AFTER DELETE ON workshop_ticket BEGIN
    DELETE FROM workshop_ticketwords WHERE ticket_id = old.id; END""",
    **{
        f"search_{kind}_of_ticket_changed": f"""AFTER UPDATE OF search_text ON {table}
    WHEN old.search_text IS NOT new.search_text BEGIN
    UPDATE workshop_ticketwords SET text = ({_WORDS.format(ticket="workshop_ticketwords.ticket_id")})
    WHERE ticket_id IN (SELECT id FROM workshop_ticket WHERE {column} = new.id); END"""  # noqa: S608  fixed names
        for kind, table, column in (
            ("customer", "workshop_customer", "customer_id"),
            ("unit", "workshop_suspensionunit", "unit_id"),
        )
    },
}


def remove() -> None:
    """Take triggers and full-text tables away. A table that Django remakes must not be named by a trigger."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'search\\_%%' ESCAPE '\\'")
        for (name,) in cursor.fetchall():
            cursor.execute(f"DROP TRIGGER {name}")
        for source in SOURCES:
            cursor.execute(f"DROP TABLE IF EXISTS {source.trigrams}")


def install() -> str:
    """Make all of it anew and fill it; returns why there are no trigrams, empty where there are."""
    remove()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM workshop_ticketwords")
        cursor.execute(
            "INSERT INTO workshop_ticketwords (ticket_id, shop_id, text) "
            f"SELECT t.id, t.shop_id, {WORDS_OF_TICKETS} ORDER BY t.id"
        )
        for name, does in _TICKET_WORDS.items():
            cursor.execute(f"CREATE TRIGGER {name} {does}")
        try:
            with transaction.atomic():
                for source in SOURCES:
                    for statement in _trigrams(source):
                        cursor.execute(statement)
        except DatabaseError as problem:
            return f"{WANTING}: {problem}"
    return ""


def is_installed() -> bool:
    """Whether all of the triggers are there: migrations take them away, and a table made anew takes its own with it.

    Those of trigrams are asked for where their full-text table is: a SQLite without FTS5 has neither.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT type, name FROM sqlite_master WHERE type IN ('table', 'trigger')")
        there = set(cursor.fetchall())
    wanted = {*_TICKET_WORDS}
    for source in SOURCES:
        if ("table", source.trigrams) in there:
            wanted |= _keeping_trigrams(source).keys()
    return wanted <= {name for kind, name in there if kind == "trigger"}


def _trigrams(source: SearchSource) -> list[str]:
    """The blanks in front and behind make the beginning and the end of each word a trigram of its own."""
    table, index, key = source.table, source.trigrams, source.key
    return [
        f"CREATE VIRTUAL TABLE {index} USING fts5"
        "(text, content='', columnsize=0, detail=none, tokenize='trigram case_sensitive 1')",
        f"INSERT INTO {index} (rowid, text) SELECT {key}, ' ' || {source.text} || ' ' FROM {table} ORDER BY {key}",  # noqa: S608  fixed names
        *(f"CREATE TRIGGER {name} {does}" for name, does in _keeping_trigrams(source).items()),
    ]


def _keeping_trigrams(source: SearchSource) -> dict[str, str]:
    """Trigger name -> when it fires and what it does. The index has no text: what is taken out is told to it again."""
    table, index, key = source.table, source.trigrams, source.key
    take_out = (
        f"INSERT INTO {index} ({index}, rowid, text) VALUES ('delete', old.{key}, ' ' || old.{source.text} || ' ');"  # noqa: S608  fixed names
    )
    put_in = f"INSERT INTO {index} (rowid, text) VALUES (new.{key}, ' ' || new.{source.text} || ' ');"  # noqa: S608  fixed names
    return {
        f"search_{source.kind}_in": f"AFTER INSERT ON {table} BEGIN {put_in} END",
        f"search_{source.kind}_out": f"AFTER DELETE ON {table} BEGIN {take_out} END",
        f"search_{source.kind}_anew": f"AFTER UPDATE OF {source.text} ON {table} "
        f"WHEN old.{source.text} IS NOT new.{source.text} BEGIN {take_out} {put_in} END",
    }
