"""Putting the search index into the database, whichever it is, and keeping it there through migrations."""

from __future__ import annotations

from typing import Any

from django.db import connection, transaction

from workshop.migrating.held import in_one_piece
from workshop.migrating.touching import must_go
from workshop.searching import postgresql, sqlite
from workshop.searching.candidates import has_trigrams, sqlite_has_trigrams
from workshop.searching.sources import SOURCES, TICKET

WITHOUT_INDEX = (
    "The search index is not there: searching finds everything, but reads every row. manage.py rebuild_search makes "
    "it, or says what the database lacks for it."
)


def rebuild() -> str:
    """Make triggers and index anew and fill them; returns what is wanting, empty where nothing is."""
    problem = in_one_piece(_rebuild)
    sqlite_has_trigrams.cache_clear()
    return problem


@transaction.atomic
def _rebuild() -> str:
    problem: str = _here().install()
    return problem


def remove() -> None:
    """Take triggers and index away, before tables are altered or filled by the hundred thousand."""
    with transaction.atomic():
        _here().remove()
    sqlite_has_trigrams.cache_clear()


def what_is_wanting() -> str:
    """Why searching is slow on this database, in a sentence; empty where the index is whole."""
    if all(has_trigrams(source) for source in SOURCES):
        return ""
    return WITHOUT_INDEX


def before_migrating(plan: list[tuple[Any, bool]], **kwargs: Any) -> None:
    """Take them away where the plan cannot be followed beside them."""
    if must_go(plan, apps={"workshop"}):
        remove()


def after_migrating(**kwargs: Any) -> None:
    """Put back what the migrations took away; the first migration of all leads here too."""
    if _words_know_their_shop() and not _here().is_installed():
        rebuild()


def _words_know_their_shop() -> bool:
    """Whether the migrations went as far as this index needs; going back may end before that."""
    if TICKET.table not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        columns = connection.introspection.get_table_description(cursor, TICKET.table)
    return "shop_id" in {column.name for column in columns}


def _here() -> Any:
    return postgresql if connection.vendor == "postgresql" else sqlite
