"""Booking a fork or shock in: the next ticket number, and everything noted at the counter."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from diagnosis.models import Complaint
from workshop.customers.merged import who_stands
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop, User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.condition import add_condition_note
from workshop.tickets.logbook import log
from workshop.tickets.models import SettingsRecord, StateMove, Ticket
from workshop.tickets.search_text import ticket_search_text
from workshop.tickets.settings_record import Settings, record_settings
from workshop.web.plausible_days import DayKind, refuse_day


@dataclass(frozen=True)
class MarkSeen:
    """A mark or damage seen at the counter, and where."""

    place: str
    text: str


@dataclass(frozen=True)
class Agreed:
    """What the customer said and what was promised."""

    complaint_words: str
    promised_on: dt.date
    complaints: Iterable[Complaint] = ()
    price_ceiling: Decimal | None = None
    notes: str = ""
    no_limit_said: bool = False


@dataclass(frozen=True)
class AgreedAtBooking(Agreed):
    """The same with what was seen at the counter: settings, None or empty where nothing was read, and marks."""

    arrival: Settings | None = None
    marks: Sequence[MarkSeen] = ()


@transaction.atomic
def book_in(
    *,
    shop: Shop,
    by: User | None,
    customer: Customer,
    unit: SuspensionUnit,
    agreement: AgreedAtBooking,
    bike: Bike | None = None,
    client_id: uuid.UUID | None = None,
) -> Ticket:
    """Open a ticket under the shop's next number.

    Args:
        client_id: made by the booking form; a form that is sent twice books once.

    Returns:
        The new ticket, or the one this form made already.

    Raises:
        ValidationError: something is missing or impossible, records belong to another shop or customer,
            or the unit is in the shop already.
    """
    hold_numbers(shop)
    made_before = sent_before(shop, client_id)
    if made_before is not None:
        return made_before
    customer = who_stands(customer)
    as_they_are(unit, bike)
    _check_belongings(shop, customer, unit, bike)
    _check_unit_is_out(unit)
    now = timezone.now()
    refuse_day("promised_on", agreement.promised_on, DayKind.PROMISED)
    ticket = Ticket(
        shop=shop,
        number=_take_number(shop),
        customer=customer,
        unit=unit,
        bike=bike,
        complaint_words=agreement.complaint_words.strip(),
        promised_on=agreement.promised_on,
        price_ceiling=agreement.price_ceiling,
        no_limit_said=agreement.no_limit_said,
        notes=agreement.notes.strip(),
        client_id=client_id,
        state_since=now,
        booked_at=now,
        booked_by=by,
    )
    ticket.search_text = ticket_search_text(ticket)
    # A new ticket is booked in and waits for nothing, and its ceiling is judged by the field: the constraints, a
    # statement each, have nothing to find.
    ticket.full_clean(exclude=["shop", "customer", "unit", "bike", "mechanic", "booked_by"], validate_constraints=False)
    ticket.save()
    ticket.complaints.set(agreement.complaints)
    StateMove.objects.create(ticket=ticket, to_state=ticket.state, by=by, at=now)
    log(ticket=ticket, by=by, kind="booked_in")
    arrival = agreement.arrival
    if arrival is not None and not arrival.is_empty:
        record_settings(ticket=ticket, moment=SettingsRecord.Moment.ARRIVAL, settings=arrival, by=by)
    for mark in agreement.marks:
        add_condition_note(ticket=ticket, by=by, place=mark.place, text=mark.text)
    return ticket


def as_they_are(*things: SuspensionUnit | Bike | None) -> None:
    """Whose a chosen unit or bike is now: passed on, or its owner merged into another record, since it was chosen."""
    for thing in things:
        if thing is not None:
            thing.refresh_from_db(fields=["customer"])


def sent_before(shop: Shop, client_id: uuid.UUID | None) -> Ticket | None:
    """The ticket that a booking form made already, if it did."""
    return None if client_id is None else Ticket.objects.filter(shop=shop, client_id=client_id).first()


def hold_numbers(shop: Shop) -> None:
    """Hold the shop's row until the transaction ends: bookings at once queue here, so no number is given twice.

    SQLite queues writers from the start of their transaction; PostgreSQL locks the row.
    """
    Shop.objects.select_for_update().get(pk=shop.pk)


def _take_number(shop: Shop) -> int:
    """The shop's next ticket number; the number of a booking that fails is given to the next one."""
    Shop.objects.filter(pk=shop.pk).update(last_ticket_number=F("last_ticket_number") + 1)
    shop.refresh_from_db(fields=["last_ticket_number"])
    return shop.last_ticket_number


def _check_belongings(shop: Shop, customer: Customer, unit: SuspensionUnit, bike: Bike | None) -> None:
    if customer.shop_id != shop.pk or unit.shop_id != shop.pk:
        raise ValidationError("Choose a customer and a unit of this shop.")
    if unit.customer_id != customer.pk:
        raise ValidationError({"unit": f"{unit} belongs to {unit.customer}. Pass it on to {customer} first."})
    if bike is not None and bike.customer_id != customer.pk:
        raise ValidationError({"bike": f"{bike} belongs to another customer."})


def _check_unit_is_out(unit: SuspensionUnit) -> None:
    inside = Ticket.objects.open().filter(unit=unit).first()
    if inside is not None:
        raise ValidationError({"unit": f"{unit} is in the shop already, on ticket {inside.number}."})
