"""The whole of booking in at once: a known or new customer, unit and bike, the ticket and its photos."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from django.db import transaction
from django.utils import timezone

from workshop.customers.adding import add_bike, add_customer
from workshop.customers.known import refuse_known_phone
from workshop.customers.merged import who_stands
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop, User
from workshop.suspension.adding import add_unit
from workshop.suspension.fitting import fit, give_to, present_fitting
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import UnitEntries
from workshop.tickets.booking import AgreedAtBooking, as_they_are, book_in, hold_numbers, sent_before
from workshop.tickets.models import Ticket
from workshop.tickets.photos import DecodedPhoto, add_photo
from workshop.tickets.visits import NO_VISIT_YET, CameWith, note_visit, put_beside


@dataclass(frozen=True)
class NewCustomer:
    name: str
    phone: str = ""
    email: str = ""
    agreed_to_reminders: bool = False
    shares_phone: str = ""  # the number of which somebody said that two people share it


@dataclass(frozen=True)
class NewBike:
    description: str
    frame_number: str = ""


@transaction.atomic
def take_in(
    *,
    shop: Shop,
    by: User | None,
    customer: Customer | NewCustomer,
    unit: SuspensionUnit | UnitEntries,
    bike: Bike | NewBike | None,
    agreement: AgreedAtBooking,
    photos: Sequence[DecodedPhoto] = (),
    client_id: uuid.UUID | None = None,
    beside: Ticket | None = None,
    came_with: CameWith | None = None,
) -> Ticket:
    """Book a unit in, adding whoever and whatever is new; all of it is kept, or nothing.

    Args:
        beside: an open ticket of the customer, into whose visit this one goes.
        came_with: loose parts, shelf and parcel, noted where there is anything of them.

    A known unit of somebody else passes to the customer, and goes onto the bike that is named.

    Raises:
        ValidationError: as `book_in`, `refuse_known_phone`, `add_customer`, `add_unit`, `add_bike` and `fit` do.
    """
    hold_numbers(shop)  # first of all: the same form sent twice at once queues here and then finds its ticket
    made_before = sent_before(shop, client_id)
    if made_before is not None:
        return made_before
    owner = _new_owner(shop, customer, by) if isinstance(customer, NewCustomer) else who_stands(customer)
    the_unit = _unit_of(customer, owner, unit, by)
    if isinstance(bike, Bike):
        as_they_are(bike)
    the_bike = add_bike(customer=owner, **asdict(bike)) if isinstance(bike, NewBike) else bike
    _put_on(the_unit, the_bike, by)
    ticket = book_in(
        shop=shop,
        by=by,
        customer=owner,
        unit=the_unit,
        bike=the_bike,
        agreement=agreement,
        client_id=client_id,
    )
    for photo in photos:
        add_photo(ticket=ticket, by=by, photo=photo)
    if beside is not None:
        put_beside(ticket=ticket, beside=beside, by=by)
    elif came_with is not None and not came_with.is_empty:
        note_visit(ticket=ticket, by=by, seen_version=NO_VISIT_YET, came_with=came_with)
    return ticket


def _new_owner(shop: Shop, new: NewCustomer, by: User | None) -> Customer:
    refuse_known_phone(shop=shop, phone=new.phone, shared=new.shares_phone)
    values = asdict(new)
    del values["shares_phone"]
    return add_customer(shop=shop, by=by, **values)


def _unit_of(
    chosen: Customer | NewCustomer, owner: Customer, unit: SuspensionUnit | UnitEntries, by: User | None
) -> SuspensionUnit:
    """A new unit of the owner; a known one of somebody else is theirs now. One that was the chosen customer's and was
    passed on since stays where it is, and the booking is refused.
    """
    if not isinstance(unit, SuspensionUnit):
        return add_unit(customer=owner, **unit)
    was_theirs = isinstance(chosen, Customer) and unit.customer_id == chosen.pk
    as_they_are(unit)
    if unit.customer_id != owner.pk and not was_theirs:
        give_to(unit=unit, customer=owner, on=timezone.localdate(), by=by)
    return unit


def _put_on(unit: SuspensionUnit, bike: Bike | None, by: User | None) -> None:
    """Note the bike it came on. A unit that comes in loose keeps its fitting: it may only be off for the work."""
    present = present_fitting(unit)
    if bike is not None and (present is None or present.bike_id != bike.pk):
        fit(unit=unit, bike=bike, since=timezone.localdate(), by=by)
