"""The migrations that tell the words their shop and fold stored text once more: old rows are found afterwards."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.core.management import call_command
from django.db import connection

from tests import factories
from tests.workshop.searching.test_search_index import keys
from workshop.counter.search import find
from workshop.models import Bike, Customer, SuspensionUnit, Ticket
from workshop.searching import installing
from workshop.searching.sources import CUSTOMER, TICKET
from workshop.web.folding import PLAIN_LETTERS, fold

MIGRATION = import_module("workshop.migrations.0020_fold_letters_without_marks")
BEFORE_BOTH = "0018"  # the words came to know their shop, and with that the index, in 0019


def test_the_migration_knows_the_letters_that_are_folded() -> None:
    assert dict(PLAIN_LETTERS) == MIGRATION.LETTERS


def _as_it_was_stored(record: Customer | SuspensionUnit | Bike | Ticket, text: str) -> None:
    """Past today's model, of which the tables of then lack columns."""
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {record._meta.db_table} SET search_text = %s WHERE id = %s", [text, record.pk])  # noqa: S608  our table
        assert cursor.rowcount == 1


@pytest.mark.django_db(transaction=True)
def test_what_was_stored_before_is_found_after_migrating() -> None:
    """One way back and forth for both: it takes half a minute."""
    customer = factories.CustomerFactory(name="Ines Sørlund")
    shop = customer.shop
    unit = factories.SuspensionUnitFactory(shop=shop, customer=customer, described_as="Łódka 36")
    bike = factories.BikeFactory(customer=customer, description="Đurić hardtail")
    ticket = factories.TicketFactory(shop=shop, customer=customer, unit=unit)
    plain = factories.CustomerFactory(shop=shop, name="Petra Quennell")
    untouched = plain.search_text
    try:
        call_command("migrate", "workshop", BEFORE_BOTH, verbosity=0)
        assert installing.what_is_wanting()
        for record, text in (
            (customer, "ines sørlund"), (unit, "łodka 36"), (bike, "đuric hardtail"), (ticket, "7 er kjører på grøt"),
        ):  # fmt: skip
            _as_it_was_stored(record, text)
    finally:  # whatever happens: other tests need today's tables
        call_command("migrate", verbosity=0)
    assert installing.what_is_wanting() == ""
    assert keys(CUSTOMER, shop, ("quennell",)) == [plain.pk]
    assert keys(TICKET, shop, ("sorlund",)) == [ticket.pk]
    found = find(shop, "sorlund")
    assert [hit.customer for hit in found.customers] == [customer]
    assert [hit.ticket for hit in found.tickets] == [ticket]
    assert [hit.unit for hit in find(shop, "lodka").units] == [unit]
    assert [hit.bike for hit in find(shop, "duric").bikes] == [bike]
    assert [hit.ticket for hit in find(shop, "kjorer").tickets] == [ticket]
    plain.refresh_from_db()
    assert plain.search_text == untouched == fold(untouched)
