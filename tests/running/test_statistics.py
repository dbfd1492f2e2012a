"""What the database plans by, once a shop was filled by the thousand."""

from __future__ import annotations

import pytest
from django.db import connection

from workshop.demo.making import make_demo
from workshop.tickets.models import Ticket


@pytest.mark.django_db
def test_a_demo_shop_is_planned_for_as_large_as_it_is() -> None:
    """PostgreSQL took a table for empty that it had seen empty: opening a figure then took minutes."""
    make_demo()
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT reltuples FROM pg_class WHERE oid = 'workshop_ticket'::regclass")
            assert cursor.fetchone() == (Ticket.objects.count(),)
        else:  # statistics would mislead SQLite: it takes each state of a ticket for equally frequent
            cursor.execute("SELECT count(*) FROM sqlite_master WHERE name LIKE 'sqlite_stat%'")
            assert cursor.fetchone() == (0,)
