"""New customers and their bikes."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from workshop.customers.leverage import note_leverage
from workshop.customers.merged import who_stands
from workshop.customers.models import Bike, Customer
from workshop.customers.phones import phone_lines
from workshop.customers.search_text import bike_search_text, customer_search_text
from workshop.staff.models import Shop, User


@transaction.atomic
def add_customer(
    *,
    shop: Shop,
    by: User | None,
    name: str,
    phone: str = "",
    email: str = "",
    address: str = "",
    preferred_contact: str = Customer.Contact.PHONE,
    agreed_to_reminders: bool = False,
    rider_mass_kg: float | None = None,
    notes: str = "",
    contact_person: str = "",
    other_phones: str = "",
    language: str = "",
    papers_language: str = "",
) -> Customer:
    """Add a customer; an agreement to reminders is kept with its time. Raises ValidationError."""
    customer = Customer(
        shop=shop,
        name=name.strip(),
        phone=phone.strip(),
        email=email.strip(),
        address=address,
        preferred_contact=preferred_contact,
        agreed_to_reminders=agreed_to_reminders,
        agreed_to_reminders_at=timezone.now() if agreed_to_reminders else None,
        rider_mass_kg=rider_mass_kg,
        notes=notes,
        contact_person=contact_person.strip(),
        other_phones=phone_lines(other_phones),
        language=language.strip(),
        papers_language=papers_language,
        created_by=by,
    )
    customer.search_text = customer_search_text(customer)
    # Its one constraint is said by the field; asked of the database, a booking pays a statement for it.
    customer.full_clean(exclude=["shop", "created_by", "search_text"], validate_constraints=False)
    customer.save()
    return customer


@transaction.atomic
def add_bike(
    *,
    customer: Customer,
    description: str,
    frame_number: str = "",
    notes: str = "",
    by: User | None = None,
    leverage: float | None = None,
    leverage_source: str = "",
) -> Bike:
    """Add a bike to a customer. Raises ValidationError."""
    bike = Bike(
        customer=who_stands(customer), description=description.strip(), frame_number=frame_number.strip(), notes=notes
    )
    note_leverage(bike, leverage, leverage_source, by)
    bike.search_text = bike_search_text(bike)
    # What its constraints hold is said by `note_leverage`; asked of the database, a booking pays a statement for it.
    bike.full_clean(exclude=["customer", "leverage_by", "search_text"], validate_constraints=False)
    bike.save()
    return bike
