"""Whether what is searched is what stands in the records."""

from __future__ import annotations

from django.db import DatabaseError, connection

from workshop.searching.candidates import has_trigrams
from workshop.searching.installing import what_is_wanting
from workshop.searching.sources import SOURCES, TICKET, WORDS_OF_TICKETS

MENDED_BY = "manage.py rebuild_search makes it anew."


def what_differs() -> list[str]:
    """What is wrong with the search index, in words; reads the words of every ticket."""
    wanting = what_is_wanting()
    return [*([wanting] if wanting else []), *_tickets_otherwise(), *_broken_inside()]


def _tickets_otherwise() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute(
            f"WITH stands (ticket_id, words) AS (SELECT t.id, {WORDS_OF_TICKETS}) "  # noqa: S608  fixed names
            f"SELECT count(*) FROM stands LEFT JOIN {TICKET.table} k ON k.ticket_id = stands.ticket_id "
            f"WHERE k.{TICKET.text} IS NULL OR k.{TICKET.text} <> stands.words"
        )
        count = cursor.fetchone()[0]
    return [f"{count:,} tickets are searched by other words than they have"] if count else []


def _broken_inside() -> list[str]:
    """SQLite's own look through its full-text tables; PostgreSQL's indexes are its own business."""
    if connection.vendor != "sqlite":
        return []
    found = []
    for source in SOURCES:
        if not has_trigrams(source):
            continue
        try:
            with connection.cursor() as cursor:
                cursor.execute(f"INSERT INTO {source.trigrams} ({source.trigrams}) VALUES ('integrity-check')")  # noqa: S608  our table
        except DatabaseError as error:
            found.append(f"the search index of {source.table} is broken ({error})")
    return found
