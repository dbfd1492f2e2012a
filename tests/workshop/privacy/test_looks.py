"""Who opened a customer's page is known to the owner, once a day each, for two years."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError
from django.db.models import QuerySet
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import CustomerFactory, UserFactory
from workshop.customers.looks import KEPT_DAYS, looks_at
from workshop.customers.models import Customer
from workshop.customers.privacy_models import RecordLook
from workshop.privacy.merging import merge_customers
from workshop.staff.models import User

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> User:
    made: User = UserFactory(owner=True, first_name="Odile")
    return made


@pytest.fixture
def customer(owner: User) -> Customer:
    made: Customer = CustomerFactory(shop=owner.shop)
    return made


def opened(client: Client, user: User, customer: Customer) -> None:
    client.force_login(user)
    assert client.get(reverse("counter:customer", args=[customer.pk])).status_code == 200


def test_each_stands_there_once_a_day(client: Client, owner: User, customer: Customer) -> None:
    clerk = UserFactory(shop=owner.shop, roles="counter", first_name="Pernille")
    page = reverse("office:privacy_person", args=[customer.pk])
    client.force_login(owner)
    assertContains(client.get(page), "Nobody since this is recorded.")
    for user in (clerk, clerk, owner):
        opened(client, user, customer)
    assert [look.by for look in looks_at(customer)] == [owner, clerk]
    shown = client.get(page)
    assertContains(shown, "Pernille", count=1)
    assertNotContains(shown, "Nobody since")


def test_the_page_is_shown_where_nothing_can_be_written_down(
    client: Client, owner: User, customer: Customer, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(*args: Any, **kwargs: Any) -> None:
        raise DatabaseError("attempt to write a readonly database")

    client.force_login(owner)
    monkeypatch.setattr(QuerySet, "bulk_create", refuse)
    opened(client, owner, customer)
    assert not RecordLook.objects.exists()
    assert "could not be recorded" in caplog.text


def test_looks_at_a_record_that_was_merged_are_shown_with_the_one_that_is_kept(owner: User, customer: Customer) -> None:
    other = CustomerFactory(shop=owner.shop)
    RecordLook.objects.create(customer=other, by=owner, on=timezone.localdate())
    seen = {"seen_kept": customer.version, "seen_merged": other.version}
    merge_customers(kept=customer, merged=other, by=owner, reason="One person", **seen)
    assert [look.customer_id for look in looks_at(customer)] == [other.pk]


def test_after_two_years_they_go(owner: User, customer: Customer) -> None:
    today = timezone.localdate()
    days = [today, today - dt.timedelta(days=KEPT_DAYS), today - dt.timedelta(days=KEPT_DAYS + 1)]
    RecordLook.objects.bulk_create(RecordLook(customer=customer, by=owner, on=day) for day in days)
    call_command("send_reminders", quiet=True)
    assert [look.on for look in looks_at(customer)] == days[:2]
