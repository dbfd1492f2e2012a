"""Booking in: the plain success, what is refused, and what two at once do."""

from __future__ import annotations

import datetime as dt
import threading
import uuid
from collections.abc import Callable
from dataclasses import fields
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import close_old_connections, connection
from django.utils import timezone

from tests import factories
from tests.known import known
from tests.logbook import said
from workshop.models import Customer, Fitting, SettingsRecord, Shop, SuspensionUnit, Ticket, User
from workshop.suspension.unit_fields import UnitEntries
from workshop.tickets.booking import AgreedAtBooking, MarkSeen, book_in
from workshop.tickets.intake import NewBike, NewCustomer, take_in
from workshop.tickets.settings_record import Settings


def in_days(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


def an_agreement(**changes: Any) -> AgreedAtBooking:
    return AgreedAtBooking(**{"complaint_words": "Sits low.", "promised_on": in_days(3), **changes})


@pytest.fixture
def clerk(db: None) -> User:
    return factories.UserFactory()


def book(clerk: User, **changes: Any) -> Ticket:
    unit = changes.pop("unit", None) or factories.SuspensionUnitFactory(shop=clerk.shop)
    known = {
        "shop": clerk.shop,
        "by": clerk,
        "customer": unit.customer,
        "unit": unit,
    }
    agreed = {one.name: changes.pop(one.name) for one in fields(AgreedAtBooking) if one.name in changes}
    return book_in(**{**known, "agreement": an_agreement(**agreed), **changes})


def test_a_ticket_keeps_everything_that_was_said(clerk: User) -> None:
    complaint = factories.ComplaintFactory()
    ticket = book(
        clerk,
        complaints=[complaint],
        price_ceiling=Decimal("180.00"),
        notes="Wants it light.",
        arrival=Settings(pressure_pa=565370.0, rebound_clicks=7),
        marks=[MarkSeen("Left stanchion", "Scratch")],
    )
    ticket.refresh_from_db()
    assert (ticket.number, ticket.state, ticket.price_ceiling) == (1, "booked_in", Decimal("180.00"))
    assert list(ticket.complaints.all()) == [complaint]
    record = ticket.settings_records.get()
    assert (record.moment, record.pressure_pa, record.rebound_clicks) == ("arrival", 565370.0, 7)
    assert str(ticket.condition_notes.get()) == "Left stanchion: Scratch"
    assert ticket.moves.get().to_state == "booked_in"
    assert ticket.moves.get().by == clerk
    assert said(ticket.events.order_by("pk")[0]) == "Booked in"
    assert "sits low" in ticket.search_text


def test_numbers_run_on_in_each_shop_apart(clerk: User) -> None:
    other = factories.UserFactory()
    assert [book(clerk).number, book(clerk).number, book(other).number] == [1, 2, 1]


def test_a_refused_booking_uses_no_number(clerk: User) -> None:
    with pytest.raises(ValidationError):
        book(clerk, complaint_words="  ")
    assert book(clerk).number == 1


def test_nothing_read_on_arrival_leaves_no_empty_record(clerk: User) -> None:
    assert not SettingsRecord.objects.filter(ticket=book(clerk, arrival=Settings())).exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"complaint_words": ""}, "complaint_words"),
        ({"promised_on": dt.date(2020, 1, 1)}, "promised_on"),
        ({"price_ceiling": Decimal("-1")}, "price_ceiling"),
    ],
)
def test_what_is_missing_or_impossible_is_named(clerk: User, changes: dict[str, object], field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        book(clerk, **changes)
    assert field in refused.value.error_dict
    assert not Ticket.objects.exists()


def test_a_unit_of_somebody_else_is_refused(clerk: User) -> None:
    with pytest.raises(ValidationError, match="belongs to"):
        book(clerk, customer=factories.CustomerFactory(shop=clerk.shop))


def test_a_bike_of_somebody_else_is_refused(clerk: User) -> None:
    with pytest.raises(ValidationError, match="another customer"):
        book(clerk, bike=factories.BikeFactory(customer__shop=clerk.shop))


def test_a_unit_of_another_shop_is_refused(clerk: User) -> None:
    with pytest.raises(ValidationError, match="this shop"):
        book(clerk, unit=factories.SuspensionUnitFactory())


def test_a_unit_that_is_in_the_shop_is_not_booked_in_twice(clerk: User) -> None:
    first = book(clerk)
    with pytest.raises(ValidationError, match=f"ticket {first.number}"):
        book(clerk, unit=first.unit)


def test_the_same_form_sent_twice_books_once(clerk: User) -> None:
    key = uuid.uuid4()
    first = book(clerk, client_id=key)
    assert book(clerk, client_id=key) == first
    known(clerk.shop).refresh_from_db()
    assert known(clerk.shop).last_ticket_number == 1


def test_take_in_adds_who_and_what_is_new(clerk: User) -> None:
    model = factories.SuspensionModelFactory()
    ticket = take_in(
        shop=known(clerk.shop),
        by=clerk,
        customer=NewCustomer(name="Jana Novák", phone="0555 010 447", agreed_to_reminders=True),
        unit=UnitEntries(model=model, serial="KP-0099", travel_m=0.13),
        bike=NewBike(description="Green hardtail"),
        agreement=an_agreement(),
    )
    assert ticket.customer.phone == "0555 010 447"
    assert ticket.customer.agreed_to_reminders_at is not None
    assert ticket.customer.search_text == "jana novak 0555010447"
    assert (ticket.unit.model, ticket.unit.serial, ticket.unit.travel_m) == (model, "KP-0099", 0.13)
    assert ticket.unit.fittings.get().bike == ticket.bike


def test_take_in_keeps_nothing_when_the_booking_is_refused(clerk: User) -> None:
    with pytest.raises(ValidationError):
        take_in(
            shop=known(clerk.shop),
            by=clerk,
            customer=NewCustomer(name="Jana"),
            unit=UnitEntries(described_as="Old fork"),
            bike=None,
            agreement=an_agreement(complaint_words=""),
        )
    assert not Customer.objects.exists()
    assert not SuspensionUnit.objects.exists()


def test_a_unit_without_model_or_words_is_refused(clerk: User) -> None:
    with pytest.raises(ValidationError) as refused:
        take_in(
            shop=known(clerk.shop), by=clerk, customer=NewCustomer(name="Jana"), unit=UnitEntries(), bike=None,
            agreement=an_agreement(),
        )  # fmt: skip
    assert "described_as" in refused.value.error_dict


def test_take_in_passes_a_known_unit_to_its_new_owner_and_bike(clerk: User) -> None:
    fitting = factories.FittingFactory(unit__shop=clerk.shop)
    ticket = take_in(
        shop=known(clerk.shop),
        by=clerk,
        customer=NewCustomer(name="Bram"),
        unit=fitting.unit,
        bike=NewBike(description="Blue enduro"),
        agreement=an_agreement(),
    )
    unit = SuspensionUnit.objects.get()
    assert unit.customer == ticket.customer
    fitting.refresh_from_db()
    assert fitting.until == timezone.localdate()
    assert Fitting.objects.get(until__isnull=True).bike == ticket.bike


def in_threads(work: Callable[[int], Any], count: int) -> list[Any]:
    """Run `work(n)` in `count` threads that start together; their results or exceptions."""
    ready = threading.Barrier(count)
    results: list[Any] = [None] * count

    def run(n: int) -> None:
        close_old_connections()
        try:
            ready.wait(timeout=20)
            results[n] = work(n)
        except Exception as error:  # the test compares it
            results[n] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return results


@pytest.mark.django_db(transaction=True)
def test_bookings_at_once_get_numbers_without_gap_or_double() -> None:
    clerk = factories.UserFactory()
    units = [factories.SuspensionUnitFactory(shop=clerk.shop) for _ in range(12)]
    results = in_threads(
        lambda n: book(clerk, unit=units[n], shop=Shop.objects.get(pk=known(clerk.shop_id))).number, 12
    )
    assert sorted(results) == list(range(1, 13))


@pytest.mark.django_db(transaction=True)
def test_one_form_sent_twice_at_once_books_once() -> None:
    clerk, key = factories.UserFactory(), uuid.uuid4()

    def send(_: int) -> int:
        return take_in(
            shop=Shop.objects.get(pk=known(clerk.shop_id)),
            by=clerk,
            customer=NewCustomer(name="Jana"),
            unit=UnitEntries(described_as="Old fork"),
            bike=None,
            agreement=an_agreement(),
            client_id=key,
        ).pk

    results = in_threads(send, 4)
    assert results == [Ticket.objects.get().pk] * 4
    assert Customer.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_one_unit_booked_in_twice_at_once_is_in_the_shop_once() -> None:
    clerk = factories.UserFactory()
    unit = factories.SuspensionUnitFactory(shop=clerk.shop)
    results = in_threads(lambda n: book(clerk, unit=SuspensionUnit.objects.get(pk=unit.pk)), 4)
    assert Ticket.objects.count() == 1
    assert sum(isinstance(result, ValidationError) for result in results) == 3
