"""The migration that folds stored text once more: old rows are found afterwards, on both databases."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.core.management import call_command

from tests import factories
from workshop.counter.search import find
from workshop.models import Bike, Customer, SuspensionUnit, Ticket
from workshop.web.folding import PLAIN_LETTERS, fold

MIGRATION = import_module("workshop.migrations.0020_fold_letters_without_marks")
BEFORE = "0019_words_know_their_shop"


def test_the_migration_knows_the_letters_that_are_folded() -> None:
    assert dict(PLAIN_LETTERS) == MIGRATION.LETTERS


@pytest.mark.django_db(transaction=True)
def test_what_was_stored_before_is_found_after_migrating() -> None:
    customer = factories.CustomerFactory(name="Ines Sørlund")
    shop = customer.shop
    unit = factories.SuspensionUnitFactory(shop=shop, customer=customer, described_as="Łódka 36")
    bike = factories.BikeFactory(customer=customer, description="Đurić hardtail")
    ticket = factories.TicketFactory(shop=shop, customer=customer, unit=unit)
    plain = factories.CustomerFactory(shop=shop, name="Petra Quennell")
    untouched = plain.search_text
    call_command("migrate", "workshop", BEFORE, verbosity=0)
    Customer.objects.filter(pk=customer.pk).update(search_text="ines sørlund")
    SuspensionUnit.objects.filter(pk=unit.pk).update(search_text="łodka 36")
    Bike.objects.filter(pk=bike.pk).update(search_text="đuric hardtail")
    Ticket.objects.filter(pk=ticket.pk).update(search_text="7 er kjører på grøt")
    assert find(shop, "sorlund").count == 0
    call_command("migrate", "workshop", verbosity=0)
    found = find(shop, "sorlund")
    assert [hit.customer for hit in found.customers] == [customer]
    assert [hit.ticket for hit in found.tickets] == [ticket]
    assert [hit.unit for hit in find(shop, "lodka").units] == [unit]
    assert [hit.bike for hit in find(shop, "duric").bikes] == [bike]
    assert [hit.ticket for hit in find(shop, "kjorer").tickets] == [ticket]
    plain.refresh_from_db()
    assert plain.search_text == untouched == fold(untouched)
