"""What a test that commits leaves behind is gone before the next, whichever way the tables are emptied."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection

from tests.emptying import tables_with_rows
from tests.factories import ShopFactory
from tests.full_shop import full_shop
from workshop.models import Shop


def every_table() -> list[str]:
    return sorted(connection.introspection.django_table_names(only_existing=True, include_views=False))


@pytest.mark.django_db
def test_a_table_with_a_row_is_told_from_one_without() -> None:
    before = tables_with_rows(connection, every_table())
    ShopFactory()
    shops = connection.ops.quote_name(Shop._meta.db_table)
    assert shops not in before
    assert shops in tables_with_rows(connection, every_table())


@pytest.mark.django_db(transaction=True)
def test_nothing_is_left_of_a_whole_shop_and_the_rules_hold_again() -> None:
    full_shop("Aldermoor")
    assert len(tables_with_rows(connection, every_table())) > 40
    call_command("flush", verbosity=0, interactive=False, inhibit_post_migrate=True)
    assert tables_with_rows(connection, every_table()) == []
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SHOW session_replication_role")
            assert cursor.fetchone() == ("origin",)  # triggers and foreign keys are asked again
