"""Changes to a customer or a bike; two people at one record never overwrite each other."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from workshop.customers.leverage import note_leverage
from workshop.customers.models import Bike, Customer
from workshop.customers.phones import phone_lines
from workshop.customers.search_text import bike_search_text, customer_search_text
from workshop.staff.models import User
from workshop.web.versions import take_version


@transaction.atomic
def edit_customer(
    *,
    customer: Customer,
    seen_version: int,
    name: str,
    phone: str,
    email: str,
    address: str,
    preferred_contact: str,
    agreed_to_reminders: bool,
    rider_mass_kg: float | None,
    notes: str,
    contact_person: str = "",
    other_phones: str = "",
    language: str = "",
    papers_language: str | None = None,
) -> Customer:
    """Replace a customer's details. The time of agreement stays until it is withdrawn.

    Without `papers_language`, which is asked where there is more than one, it stays what it is.

    Raises:
        StaleVersion: somebody changed the customer after it was opened.
        ValidationError: a value is not acceptable.
    """
    take_version(customer, seen_version)
    customer.name, customer.phone, customer.email = name.strip(), phone.strip(), email.strip()
    customer.address, customer.notes = address, notes
    customer.contact_person, customer.language = contact_person.strip(), language.strip()
    customer.other_phones = phone_lines(other_phones)
    if papers_language is not None:
        customer.papers_language = papers_language
    customer.preferred_contact, customer.rider_mass_kg = preferred_contact, rider_mass_kg
    if agreed_to_reminders != customer.agreed_to_reminders:
        customer.agreed_to_reminders = agreed_to_reminders
        customer.agreed_to_reminders_at = timezone.now() if agreed_to_reminders else None
    customer.search_text = customer_search_text(customer)
    customer.full_clean(exclude=["shop", "created_by", "search_text"])
    customer.save()
    return customer


@transaction.atomic
def edit_bike(
    *,
    bike: Bike,
    seen_version: int,
    description: str,
    frame_number: str,
    notes: str,
    by: User | None,
    leverage: float | None = None,
    leverage_source: str = "",
) -> Bike:
    """Replace a bike's details; who noted its leverage stays while that stays.

    Raises StaleVersion or ValidationError.
    """
    take_version(bike, seen_version)
    note_leverage(bike, leverage, leverage_source, by)
    bike.description, bike.frame_number, bike.notes = description.strip(), frame_number.strip(), notes
    bike.search_text = bike_search_text(bike)
    bike.full_clean(exclude=["customer", "leverage_by", "search_text"])
    bike.save()
    return bike
