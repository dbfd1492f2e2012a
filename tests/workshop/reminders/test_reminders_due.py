"""Who is on the due list, and the owner's pages of it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import ShopFactory, TicketFactory, UserFactory
from tests.workshop.reminders.due_units import due_list, due_unit, queued, row_of
from workshop.intervals.forecast import ServiceStanding
from workshop.intervals.models import IntervalPolicy, ServiceDone
from workshop.models import Message, RemindedService, ReminderText, Shop, Ticket
from workshop.reminders.due import due_row
from workshop.reminders.queueing import AlreadyTold, CannotRemind, decide, queue_reminder, undecide

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory.create()


@pytest.fixture
def owner(shop: Shop) -> Client:
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))
    return client


def units_on(shop: Shop) -> list[int]:
    return [row.unit.pk for row in due_list(shop, timezone.localdate()).rows]


def test_most_urgent_first(shop: Shop) -> None:
    coming, overdue, due = (due_unit(shop, months_ago=months) for months in (5, 9, 6))
    due_unit(shop, months_ago=1)
    assert units_on(shop) == [overdue.pk, due.pk, coming.pk]
    assert row_of(overdue).standing is ServiceStanding.OVERDUE


def test_what_fell_due_lately_before_what_did_years_ago(shop: Shop) -> None:
    years, lately = (due_unit(shop, months_ago=months) for months in (50, 8))
    next_month, next_week = (due_unit(shop, months_ago=months) for months in (5, 6))
    assert units_on(shop) == [lately.pk, years.pk, next_week.pk, next_month.pk]


def test_one_row_for_a_unit_with_all_its_services(shop: Shop) -> None:
    unit = due_unit(shop)
    from tests.factories import SpecValueFactory

    SpecValueFactory.create(
        model=unit.model, quantity="full_interval_months", magnitude_si=86400 * 30.44 * 2, typed="2 months"
    )
    ServiceDone.objects.create(
        unit=unit, level="full", on=timezone.localdate() - dt.timedelta(days=400), told_by="x", at=timezone.now()
    )
    (row,) = due_list(shop, timezone.localdate()).rows
    assert [forecast.level for forecast in row.forecasts] == ["full", "lowers"]


def test_a_unit_in_the_shop_is_not_on_it(shop: Shop) -> None:
    unit = due_unit(shop)
    TicketFactory.create(shop=shop, unit=unit, customer=unit.customer, state=Ticket.State.WAITING, waiting_for="parts")
    assert units_on(shop) == []


def test_told_is_off_the_list_until_the_next_service(shop: Shop) -> None:
    unit = due_unit(shop)
    queued(unit)
    assert units_on(shop) == []
    day = timezone.localdate() - dt.timedelta(days=200)
    ServiceDone.objects.create(unit=unit, level="lowers", on=day, told_by="x", at=timezone.now())
    assert units_on(shop) == [unit.pk]


def test_never_twice_for_the_same_due_service(shop: Shop) -> None:
    unit = due_unit(shop)
    row = row_of(unit)
    queued(unit)
    with pytest.raises(AlreadyTold):
        queue_reminder(row=row, channel="email", subject="x", body="y", stop_url="https://a.example/", by=None)
    assert Message.objects.count() == 1
    assert RemindedService.objects.count() == 1


def test_only_who_agreed(shop: Shop) -> None:
    with pytest.raises(CannotRemind, match="not agreed"):
        queued(due_unit(shop, agreed=False))


def test_a_customer_without_address_cannot_be_reminded(shop: Shop) -> None:
    unit = due_unit(shop, email="", address="")
    assert row_of(unit).channels == []
    with pytest.raises(CannotRemind, match="no email address"):
        queued(unit)
    with pytest.raises(CannotRemind, match="no postal address"):
        queued(unit, "letter")


def test_without_a_mail_server_there_are_letters_only(shop: Shop, settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    unit = due_unit(shop, address="1 Weir Row")
    with pytest.raises(CannotRemind, match="EMAIL_HOST"):
        queued(unit)
    assert queued(unit, "letter").to_address == "1 Weir Row"


def test_the_preferred_way_comes_first(shop: Shop) -> None:
    assert row_of(due_unit(shop, address="1 Weir Row", preferred_contact="letter")).channels == ["letter", "email"]


def test_snoozed_until_a_day_and_brought_back(shop: Shop) -> None:
    unit = due_unit(shop)
    keys = row_of(unit).keys
    decide(keys=keys, snoozed_until=timezone.localdate() + dt.timedelta(days=10), by=None)
    assert units_on(shop) == []
    assert units_on_later(shop, 11) == [unit.pk]
    undecide(keys=keys)
    assert units_on(shop) == [unit.pk]


def units_on_later(shop: Shop, days: int) -> list[int]:
    return [row.unit.pk for row in due_list(shop, timezone.localdate() + dt.timedelta(days=days)).rows]


def test_skipped_for_this_time_only(shop: Shop) -> None:
    unit = due_unit(shop)
    decide(keys=row_of(unit).keys, snoozed_until=None, by=None)
    assert units_on_later(shop, 300) == []
    day = timezone.localdate() - dt.timedelta(days=190)
    ServiceDone.objects.create(unit=unit, level="lowers", on=day, told_by="x", at=timezone.now())
    assert units_on(shop) == [unit.pk]


def test_snoozing_into_the_past_is_refused(shop: Shop) -> None:
    with pytest.raises(ValidationError, match="still to come"):
        decide(keys=row_of(due_unit(shop)).keys, snoozed_until=timezone.localdate(), by=None)


def test_other_shops_are_not_seen(shop: Shop) -> None:
    other = due_unit(ShopFactory.create())
    assert units_on(shop) == []
    assert due_row(shop, other.pk, timezone.localdate()) is None


def test_the_list_takes_the_same_queries_however_long(
    shop: Shop, owner: Client, django_assert_num_queries: Any
) -> None:
    def queries() -> int:
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as captured:
            assert owner.get(reverse("office:reminders"), {"who": "all"}).status_code == 200
        return len(captured)

    for _ in range(2):
        due_unit(shop)
    few = queries()
    for number in range(12):
        due_unit(shop, agreed=number % 2 == 0)
    assert queries() == few


def test_the_owner_reads_edits_and_lets_go(shop: Shop, owner: Client) -> None:
    unit = due_unit(shop)
    address = reverse("office:reminders_review", args=[unit.pk])
    page = owner.get(address).content.decode()
    assert f"Dear {unit.customer.name}" in page
    answer = owner.post(address, {"channel": "email", "subject": "Come by", "body": "My own words"})
    assert answer.status_code == 302
    message = Message.objects.get()
    assert (message.subject, message.body, message.state) == ("Come by", "My own words", "queued")
    assert message.stop_url.startswith("https://mill-yard.example/c/stop/")
    assert "BEGIN:VCALENDAR" in message.calendar


def test_a_subject_of_two_lines_is_refused_and_kept(shop: Shop, owner: Client) -> None:
    address = reverse("office:reminders_review", args=[due_unit(shop).pk])
    answer = owner.post(address, {"channel": "email", "subject": "Come by\r\nBcc: all@example.org", "body": "words"})
    assert answer.status_code == 422
    assert "A subject is one line" in answer.content.decode()
    assert not Message.objects.exists()


def test_ticked_rows_go_out_together(shop: Shop, owner: Client) -> None:
    units = [due_unit(shop) for _ in range(3)]
    owner.post(reverse("office:reminders_queue"), {"unit": [units[0].pk, units[2].pk, "nonsense"]})
    assert set(Message.objects.values_list("unit", flat=True)) == {units[0].pk, units[2].pk}


def test_an_unknown_field_in_the_wording_is_refused_beside_it(shop: Shop, owner: Client) -> None:
    typed = {"subject": "Hello", "body": "Dear {client}", "seen_version": "0"}
    answer = owner.post(reverse("office:reminders_text"), typed)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "There is no field {client}" in page
    assert "Dear {client}" in page
    assert not ReminderText.objects.exists()


def test_the_wording_is_saved_and_used(shop: Shop, owner: Client) -> None:
    typed = {"subject": "For {customer}", "body": "{service} {due}", "seen_version": "0"}
    assert owner.post(reverse("office:reminders_text"), typed).status_code == 302
    unit = due_unit(shop)
    page = owner.get(reverse("office:reminders_review", args=[unit.pk])).content.decode()
    assert f"For {unit.customer.name}" in page
    assert "lowers service since" in page


def test_two_owners_at_the_figures_get_a_choice(shop: Shop, owner: Client) -> None:
    typed = {"wet_percent": "60", "dusty_percent": "70", "spread_percent": "20", "coming_up_days": "30"}
    address = reverse("office:reminders_figures")
    assert owner.post(address, {**typed, "seen_version": "0"}).status_code == 302
    policy = IntervalPolicy.objects.get(shop=shop)
    assert (policy.wet_factor, policy.dusty_factor, policy.said_hours_spread) == (0.6, 0.7, 0.2)
    answer = owner.post(address, {**typed, "wet_percent": "90", "seen_version": "0"})
    assert answer.status_code == 409
    assert 'value="90"' in answer.content.decode()
    policy.refresh_from_db()
    assert policy.wet_factor == 0.6


@pytest.mark.parametrize("role", ["counter", "mechanic"])
def test_reminders_are_the_owners(shop: Shop, role: str) -> None:
    client = Client()
    client.force_login(UserFactory.create(shop=shop, role=role))
    for name in ("reminders", "reminders_outbox", "reminders_text", "reminders_figures", "privacy"):
        assert client.get(reverse(f"office:{name}")).status_code == 403
