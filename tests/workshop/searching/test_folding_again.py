"""The migration that folds stored text once more: old rows are found afterwards."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection

from tests import factories
from tests.workshop.searching.test_search_index import keys
from workshop.counter.search import find
from workshop.searching.sources import CUSTOMER, TICKET
from workshop.web.folding import PLAIN_LETTERS, fold

MIGRATION = import_module("workshop.migrations.0020_fold_letters_without_marks")


def test_the_migration_knows_the_letters_that_are_folded() -> None:
    assert dict(PLAIN_LETTERS) == MIGRATION.LETTERS


@pytest.mark.django_db
def test_what_was_stored_before_is_found_after_folding_again() -> None:
    """The step alone, on today's tables: it names a column they still have, and going back to it takes minutes."""
    customer = factories.CustomerFactory(name="Ines Sørlund")
    shop = customer.shop
    unit = factories.SuspensionUnitFactory(shop=shop, customer=customer, described_as="Łódka 36")
    bike = factories.BikeFactory(customer=customer, description="Đurić hardtail")
    ticket = factories.TicketFactory(shop=shop, customer=customer, unit=unit)
    plain = factories.CustomerFactory(shop=shop, name="Petra Quennell")
    untouched = plain.search_text
    for record, text in (
        (customer, "ines sørlund"), (unit, "łodka 36"), (bike, "đuric hardtail"), (ticket, "7 er kjører på grøt"),
    ):  # fmt: skip
        type(record)._default_manager.filter(pk=record.pk).update(search_text=text)
    assert not find(shop, "sorlund").customers
    MIGRATION.fold_again(apps, connection.schema_editor())
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
