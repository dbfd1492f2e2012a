"""Saying so where the database cannot keep the search index."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Warning
from django.db import connection

from workshop.searching.installing import what_is_wanting
from workshop.searching.sources import TICKET


def search_has_its_index(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """For `manage.py check --database default`, and the start of the server."""
    if not databases or TICKET.table not in connection.introspection.table_names():
        return []
    wanting = what_is_wanting()
    return [Warning(wanting, id="workshop.W001")] if wanting else []
