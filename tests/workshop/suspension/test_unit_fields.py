"""An entry of a unit that is declared once is typed, shown, exported, found and erased everywhere."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import SuspensionUnitFactory, UserFactory
from tests.known import known
from workshop.counter.search import find
from workshop.customers.models import Customer
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import gather_person
from workshop.staff.models import User
from workshop.suspension.adding import add_unit
from workshop.suspension.editing import edit_unit
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import UNIT_FIELDS, UnitEntries, UnitField

pytestmark = pytest.mark.django_db

# What says which unit it is stands apart; the rest the shop's own work writes.
IDENTITY = {"kind", "model", "described_as"}
NOT_TYPED = {"id", "shop", "customer", "search_text", "version", "created_at", "measured"}
by_name = pytest.mark.parametrize("field", UNIT_FIELDS, ids=lambda field: field.name)


def filled(field: UnitField) -> tuple[str, Any, str]:
    """What to type into a field, what is stored of it, and its words on the unit's page."""
    if field.measured is not None:
        middle = (field.measured.low_si + field.measured.high_si) / 2
        return f"{middle * 1000:.0f} mm", pytest.approx(middle, abs=5e-4), f"{middle * 1000:.0f} mm"
    if field.choices:
        value, words = next(iter(field.choices.items()))
        return value, value, words
    return f"Sedge {field.name}", f"Sedge {field.name}", f"Sedge {field.name}"


@pytest.fixture
def clerk(client: Client) -> User:
    user: User = UserFactory()
    client.force_login(user)
    return user


def test_every_column_that_is_typed_is_declared() -> None:
    columns = {column.name for column in SuspensionUnit._meta.concrete_fields} - NOT_TYPED
    assert columns == IDENTITY | {field.name for field in UNIT_FIELDS} == set(UnitEntries.__annotations__)


@by_name
def test_it_is_typed_when_a_unit_is_added_and_edited(client: Client, clerk: User, field: UnitField) -> None:
    typed, stored, words = filled(field)
    unit = SuspensionUnitFactory(shop=known(clerk.shop), model=None, described_as="Fork")
    address = reverse("counter:change_unit", args=[unit.pk])
    assertContains(client.get(address), f'name="{field.name}"')
    sent = {"described_as": "Fork", "kind": "fork", "seen_version": unit.version, field.name: typed}
    assert client.post(address, sent).status_code == 302
    unit.refresh_from_db()
    assert getattr(unit, field.name) == stored
    assertContains(client.get(address), words.removesuffix(" mm"))  # its unit stands beside the field
    assertContains(client.get(reverse("counter:unit", args=[unit.pk])), words)
    assertContains(client.get(reverse("counter:new_unit", args=[unit.customer_id])), f'name="{field.name}"')


@by_name
def test_it_is_typed_at_booking_where_it_says_so(client: Client, clerk: User, field: UnitField) -> None:
    held = assertContains if field.at_booking else assertNotContains
    held(client.get(reverse("counter:book_in")), f'name="unit-{field.name}"')


@by_name
def test_it_is_exported_and_erased(clerk: User, field: UnitField) -> None:
    _, stored, _ = filled(field)
    unit = SuspensionUnitFactory(shop=known(clerk.shop), **{field.name: _plain(field)})
    customer: Customer = unit.customer
    assert gather_person(customer)["units"][0][field.name] == stored
    erase_customer(customer=customer, by=clerk)
    unit.refresh_from_db()
    assert getattr(unit, field.name) == ("" if field.personal else stored)


@by_name
def test_it_is_found_where_it_says_so(clerk: User, field: UnitField) -> None:
    customer = known(clerk.shop).customers.create(name="Jana Ferreira", search_text="jana ferreira")
    entries: Any = {"described_as": "Kestrigan Plume", field.name: _plain(field)}
    add_unit(customer=customer, **entries)
    hits = find(known(clerk.shop), f"Sedge {field.name}").units
    assert [hit.matched for hit in hits] == ([field.label.lower()] if field.searched else [])


def test_what_is_not_named_stays(clerk: User) -> None:
    unit = SuspensionUnitFactory(shop=known(clerk.shop), serial="SN-1", notes="dent")
    edit_unit(unit=unit, seen_version=unit.version, serial=" SN-2 ")
    unit.refresh_from_db()
    assert (unit.serial, unit.notes) == ("SN-2", "dent")


def test_an_entry_that_no_unit_has_is_refused(clerk: User) -> None:
    unit = SuspensionUnitFactory(shop=known(clerk.shop))
    entries: Any = {"search_text": "all of them"}
    with pytest.raises(TypeError, match="search_text"):
        edit_unit(unit=unit, seen_version=unit.version, **entries)


def _plain(field: UnitField) -> Any:
    """A value as it is stored."""
    return (field.measured.low_si + field.measured.high_si) / 2 if field.measured else filled(field)[1]
