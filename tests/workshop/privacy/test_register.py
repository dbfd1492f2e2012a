"""The register names every table that leads to a person, once, and shows its columns as they are."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db import models
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import ShopFactory, UserFactory
from workshop.customers.models import Customer
from workshop.privacy.erasing import retention_of
from workshop.privacy.every_word import ways_to_a_customer
from workshop.privacy.register import ACTIVITIES, register, table_named
from workshop.staff.models import User

# Words a person may stand in: whoever adds a column of such a name to any table says in the register what it is for.
_OF_PEOPLE = {"phone", "other_phones", "email", "to_address", "contact_person", "address", "username", "said_by"}
_NOT_OF_PEOPLE = {
    "Shop", "ReceiptSettings", "MailSettings",  # the shop’s own
    "AccessFailureLog",  # stays empty: settings.py does not ask for it
}  # fmt: skip


def named() -> list[str]:
    return [name for activity in ACTIVITIES for name in activity.tables]


def test_every_table_that_leads_to_a_customer_is_named_once() -> None:
    assert len(named()) == len(set(named()))
    lacking = {Customer.__name__, *(model.__name__ for model, _ in ways_to_a_customer())} - set(named())
    assert not lacking


def test_so_is_every_table_of_staff_and_whatever_has_a_way_to_reach_somebody() -> None:
    by_column = {
        model.__name__
        for model in apps.get_models()
        if model._meta.app_label in {"specs", "diagnosis", "workshop", "axes"}
        and _OF_PEOPLE.intersection(field.name for field in model._meta.local_concrete_fields)
    }
    assert {"Customer", "Supplier", "User"} <= by_column
    assert by_column - set(named()) <= _NOT_OF_PEOPLE
    one_of_staff = {
        relation.related_model.__name__
        for relation in User._meta.related_objects
        if isinstance(relation.field, models.OneToOneField)
    }
    assert one_of_staff
    assert one_of_staff <= set(named())


def test_a_table_left_out_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "ACTIVITIES", ACTIVITIES[1:])
    with pytest.raises(AssertionError):
        test_every_table_that_leads_to_a_customer_is_named_once()


def test_columns_are_those_of_the_tables() -> None:
    kept = {table.name: table.columns for entry in register() for table in entry.kept}
    assert {"phone", "email", "rider mass kg"} <= set(kept["Customer"])
    for entry in register():
        for name, table in zip(entry.activity.tables, entry.kept, strict=True):
            there = {str(field.verbose_name) for field in table_named(name)._meta.local_concrete_fields}
            assert set(table.columns) <= there
    with pytest.raises(LookupError):
        table_named("Nothing")


@pytest.mark.django_db
def test_the_owner_reads_it_and_finds_the_time_that_is_set(client: Client) -> None:
    shop = ShopFactory(name="Aldermoor", address="")
    client.force_login(UserFactory(shop=shop, roles="owner"))
    page = client.get(reverse("office:privacy_register"))
    assertContains(page, "never by the app: no time is set")
    assertContains(page, "not entered yet")
    assertContains(page, "Bikes, forks and shocks")
    client.post(reverse("office:privacy"), {"years": "6", "seen_version": retention_of(shop).version})
    assertContains(client.get(reverse("office:privacy_register")), "after 6 years without a visit")
    assertContains(client.get(reverse("office:privacy")), reverse("office:privacy_register"))
    client.force_login(UserFactory(shop=shop, roles="counter"))
    assertNotContains(client.get(reverse("office:privacy_register")), "Why", status_code=403)
