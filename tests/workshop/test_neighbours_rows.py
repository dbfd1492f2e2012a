"""A small shop in the database of a large one: no page of it reads the large one's rows.

PostgreSQL counts by table what a transaction has read. Each page is asked for once where the small shop is alone and
once beside a shop of thousands of tickets; what grew is read of the neighbour.
"""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse

from tests.addresses import parts_of
from tests.full_shop import FullShop, full_shop
from tests.workshop.test_shops_apart import LAID_OUT_ANEW, SHARED
from tests.workshop.test_who_may_enter import the_table, undone
from workshop.demo.big_shop import make_big_shop
from workshop.demo.long_past import Sizes
from workshop.running.databases import take_statistics

pytestmark = [
    pytest.mark.skipif("connection.vendor != 'postgresql'", reason="PostgreSQL only"),
    pytest.mark.django_db,
]

NEIGHBOUR = Sizes(tickets=4_000, customers=1_200, units=1_600, days=3 * 365)
# What every shop of the database reads: it grows with the neighbour's fork models, parts and checklists.
OF_ALL = {
    model._meta.db_table
    for model in apps.get_models(include_auto_created=True)
    if model._meta.app_label in {"specs", "diagnosis"} and model.__name__.partition("_")[0] in SHARED
}
_READ = (
    "SELECT relname, coalesce(seq_tup_read, 0) + coalesce(idx_tup_fetch, 0) FROM pg_stat_xact_user_tables "
    "WHERE coalesce(seq_tup_read, 0) + coalesce(idx_tup_fetch, 0) > 0"
)
ALLOWED = 200  # of a table: one so small is read whole sooner than by an index


def rows_read() -> dict[str, int]:
    with connection.cursor() as cursor:
        cursor.execute(_READ)
        return dict(cursor.fetchall())


def read_by_page(client: Client, shop: FullShop) -> dict[str, dict[str, int]]:
    """Page -> table -> how many of its rows it read."""
    found = {}
    for name, row in the_table().items():
        if row["get"] in {"-", "link"} or name in {"sign_in"} | LAID_OUT_ANEW:
            continue
        address = reverse(name, kwargs=shop.arguments(name, parts_of(name)))
        undone(client, "get", address)  # what is kept from one page to the next is kept now
        before = rows_read()
        undone(client, "get", address)
        found[name] = {table: read - before.get(table, 0) for table, read in rows_read().items()}
    return found


class Undone(Exception):
    pass


def alone(client: Client) -> Mapping[str, Mapping[str, int]]:
    found: Mapping[str, Mapping[str, int]] = {}
    try:
        with transaction.atomic():
            shop = full_shop("Aldermoor")
            take_statistics()
            client.force_login(shop.owner)
            found = read_by_page(client, shop)
            raise Undone
    except Undone:
        return found


def test_no_page_of_a_small_shop_reads_a_large_one(client: Client) -> None:
    before = alone(client)
    make_big_shop(NEIGHBOUR)
    shop = full_shop("Aldermoor", first_number=9_000)
    take_statistics()
    client.force_login(shop.owner)
    beside = read_by_page(client, shop)
    assert set(beside) == set(before)
    more = [
        f"{page}: {read - before[page].get(table, 0):,} more of {table}"
        for page, tables in sorted(beside.items())
        for table, read in sorted(tables.items())
        if table not in OF_ALL and read - before[page].get(table, 0) > ALLOWED
    ]
    assert not more, "\n".join(more)
