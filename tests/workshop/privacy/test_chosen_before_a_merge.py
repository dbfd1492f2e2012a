"""A customer chosen on a page just before a merge: what is written lands on the record that stands."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import (
    BikeFactory,
    ComplaintFactory,
    CustomerFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from workshop.customers.adding import add_bike
from workshop.customers.models import Bike, Customer
from workshop.models import SuspensionUnit, Ticket, User
from workshop.privacy.merging import merge_customers
from workshop.suspension.adding import add_unit
from workshop.suspension.fitting import give_to
from workshop.suspension.models import ChangeOfOwner
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.intake import take_in
from workshop.work.moving_over import Rightly, move_over

pytestmark = pytest.mark.django_db
REFUSED = 422


@pytest.fixture
def kept() -> Customer:
    shop = UserFactory.create(owner=True).shop
    return CustomerFactory.create(shop=shop, name="Ottilie Varnholm", phone="0777 100 200")


@pytest.fixture
def chosen(kept: Customer) -> Customer:
    """The other record of the same person, with a fork on a bike."""
    made = CustomerFactory.create(shop=kept.shop, name="O. Varnholm", phone="0888 300 400")
    BikeFactory.create(customer=made)
    SuspensionUnitFactory.create(shop=kept.shop, customer=made)
    return made


@pytest.fixture
def fork(chosen: Customer) -> SuspensionUnit:
    return SuspensionUnit.objects.select_related("customer").get(customer=chosen)


@pytest.fixture
def counter(client: Client, kept: Customer) -> Client:
    client.force_login(User.objects.get(shop=kept.shop))
    return client


def merge(kept: Customer, merged: Customer) -> None:
    fresh = [Customer.objects.select_related("shop").get(pk=one.pk) for one in (kept, merged)]
    merge_customers(
        kept=fresh[0], merged=fresh[1], by=None, seen_kept=fresh[0].version, seen_merged=fresh[1].version, reason="Same"
    )


def agreed() -> AgreedAtBooking:
    return AgreedAtBooking(complaint_words="Knocks", promised_on=timezone.localdate() + dt.timedelta(days=3))


def whose() -> set[str]:
    owners = (model.objects.values_list("customer__name", flat=True) for model in (Ticket, SuspensionUnit, Bike))
    return {name for names in owners for name in names}


def test_a_booking_is_of_the_record_that_stands(kept: Customer, chosen: Customer, fork: SuspensionUnit) -> None:
    bike = Bike.objects.select_related("customer").get(customer=chosen)
    merge(kept, chosen)
    ticket = take_in(shop=kept.shop, by=None, customer=chosen, unit=fork, bike=bike, agreement=agreed())
    assert ticket.customer == kept
    assert whose() == {kept.name}
    assert not ChangeOfOwner.objects.exists(), "nobody passed it on"


def test_so_is_one_without_the_page(kept: Customer, chosen: Customer, fork: SuspensionUnit) -> None:
    merge(kept, chosen)
    assert book_in(shop=kept.shop, by=None, customer=chosen, unit=fork, agreement=agreed()).customer == kept


def test_what_is_new_goes_to_the_record_that_stands(kept: Customer, chosen: Customer) -> None:
    loose = SuspensionUnitFactory.create(shop=kept.shop, customer=CustomerFactory.create(shop=kept.shop))
    merge(kept, chosen)
    assert add_unit(customer=chosen, kind="fork", described_as="Grey fork").customer == kept
    assert add_bike(customer=chosen, description="Grey bike", by=None).customer == kept
    assert give_to(unit=loose, customer=chosen, on=timezone.localdate(), by=None).customer == kept


def test_a_unit_that_was_passed_on_meanwhile_is_not_taken_back(
    kept: Customer, chosen: Customer, fork: SuspensionUnit
) -> None:
    stranger = CustomerFactory.create(shop=kept.shop, name="Pia Rust")
    give_to(unit=SuspensionUnit.objects.get(pk=fork.pk), customer=stranger, on=timezone.localdate(), by=None)
    with pytest.raises(ValidationError, match="Pia Rust"):
        take_in(shop=kept.shop, by=None, customer=chosen, unit=fork, bike=None, agreement=agreed())
    assert not Ticket.objects.exists()


def test_a_ticket_is_not_moved_to_a_record_that_was_merged(kept: Customer, chosen: Customer) -> None:
    wrong = TicketFactory.create(shop=kept.shop, unit__customer=CustomerFactory.create(shop=kept.shop))
    rightly = Rightly(chosen, wrong.unit, None)
    merge(kept, chosen)
    with pytest.raises(ValidationError, match="Ottilie Varnholm"):
        move_over(ticket=wrong, by=None, seen_version=wrong.version, rightly=rightly, reason="Wrong name")
    assert Ticket.objects.get(pk=wrong.pk).customer != chosen


def booking(chosen: Customer, fork: SuspensionUnit | None = None) -> dict[str, Any]:
    complaint = ComplaintFactory.create()
    return {
        "customer": str(chosen.pk),
        "unit": str(fork.pk) if fork else "new",
        "unit-kind": "fork",
        "unit-described_as": "" if fork else "Grey fork",
        "bike": "none",
        "customer-name": "O. Varnholm",
        "customer-phone": "0888 300 400",
        "ticket-complaint_words": "Knocks",
        "ticket-complaints": [str(complaint.pk)],
        "ticket-promised_on": (timezone.localdate() + dt.timedelta(days=3)).isoformat(),
        "ticket-no_limit_said": "on",
    }


@pytest.mark.parametrize("known", [True, False])
def test_the_booking_page_lands_on_the_record_that_stands(
    counter: Client, kept: Customer, chosen: Customer, fork: SuspensionUnit, known: bool
) -> None:
    sent = booking(chosen, fork if known else None)
    merge(kept, chosen)
    response = counter.post(reverse("counter:book_in"), sent)
    assert response.status_code == 302, response.text
    assert Ticket.objects.get().customer == kept
    assert Customer.objects.count() == 1, "nobody is entered anew"


def test_pages_of_the_merged_record_lead_to_the_one_that_stands(
    counter: Client, kept: Customer, chosen: Customer
) -> None:
    pages = [reverse(f"counter:{name}", args=[chosen.pk]) for name in ("new_bike", "new_unit", "change_customer")]
    merge(kept, chosen)
    counter.post(pages[0], {"description": "Grey bike"})
    counter.post(pages[1], {"kind": "fork", "described_as": "Grey fork"})
    assert Bike.objects.filter(customer=kept, description="Grey bike").exists()
    assert SuspensionUnit.objects.filter(customer=kept, described_as="Grey fork").exists()
    assert counter.get(pages[2]).headers["Location"] == reverse("counter:change_customer", args=[kept.pk])


@pytest.mark.django_db(transaction=True)
def test_at_the_same_moment_nothing_is_left_behind(kept: Customer, chosen: Customer, fork: SuspensionUnit) -> None:
    def work(person: int) -> None:
        mine = seen[person]
        if person == 0:
            merge(kept, mine)
        elif person == 1:
            take_in(shop=mine.shop, by=None, customer=mine, unit=fork, bike=None, agreement=agreed())
        elif person == 2:
            add_unit(customer=mine, kind="fork", described_as="Grey fork")
        else:
            add_bike(customer=mine, description="Grey bike", by=None)

    # Read before the merge may begin: the page of each was open already.
    seen = [Customer.objects.select_related("shop").get(pk=chosen.pk) for _ in range(4)]
    at_once(work, 4)
    assert whose() == {kept.name}
    assert (SuspensionUnit.objects.count(), Bike.objects.count(), Ticket.objects.count()) == (2, 2, 1)
