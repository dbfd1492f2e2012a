"""The records behind the keys of a search, with what a hit says of them: five queries, however many are found.

Each kind is read once, also for those who only stand beside a hit: a join for each would cost more than the rows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import SEARCHED
from workshop.tickets.models import Ticket

_CUSTOMER = ("name", "phone", "other_phones", "search_text")
_UNIT = (
    "customer", "kind", "described_as", *(field.name for field in SEARCHED), "search_text",
    "model__maker", "model__name", "model__year_from", "model__year_to",
)  # fmt: skip
_TICKET = ("number", "customer", "unit", "complaint_words", "state", "waiting_for")
_SPOKEN_OF = "id, number, state, waiting_for, state_since, customer_id, unit_id, bike_id"


@dataclass(frozen=True)
class Records:
    """What was found by kind, in the order of its keys; `spoken_of`: tickets to speak of by column and owner's key."""

    tickets: Sequence[Ticket]
    customers: Sequence[Customer]
    units: Sequence[SuspensionUnit]
    bikes: Sequence[Bike]
    spoken_of: Mapping[tuple[str, int], Sequence[Ticket]]


def tickets_found(keys: Iterable[int]) -> QuerySet[Ticket]:
    """Tickets without who and what they are for."""
    return Ticket.objects.filter(pk__in=keys).order_by().only(*_TICKET)


def bikes_found(keys: Iterable[int]) -> QuerySet[Bike]:
    """Bikes by their description, without whose they are."""
    return Bike.objects.filter(pk__in=keys).order_by("description", "-pk").only("customer", "description")


def hit_records(
    shop: Shop, *, tickets: Sequence[Ticket], customers: Sequence[int], units: Sequence[int], bikes: Sequence[Bike]
) -> Records:
    """Customers and units of these keys, and whose and what those tickets, units and bikes are."""
    wanted_units = {*units, *(ticket.unit_id for ticket in tickets)}
    unit_rows = SuspensionUnit.objects.filter(pk__in=wanted_units).order_by().select_related("model").only(*_UNIT)
    by_unit = {unit.pk: unit for unit in unit_rows}
    owned: list[Ticket | SuspensionUnit | Bike] = [*tickets, *by_unit.values(), *bikes]
    wanted_customers = {*customers, *(one.customer_id for one in owned)}
    people = Customer.objects.filter(pk__in=wanted_customers).order_by().only(*_CUSTOMER)
    by_customer = {row.pk: row for row in people}
    for one in owned:
        one.customer = by_customer[one.customer_id]
    for ticket in tickets:
        ticket.unit = by_unit[ticket.unit_id]
    return Records(
        tickets,
        [by_customer[key] for key in customers],
        [by_unit[key] for key in units],
        bikes,
        _tickets_to_speak_of(shop, customer=customers, unit=units, bike=[bike.pk for bike in bikes]),
    )


def _tickets_to_speak_of(shop: Shop, **hits: Sequence[int]) -> Mapping[tuple[str, int], Sequence[Ticket]]:
    """Open tickets of the hits and the newest of each, in one query: a union, where each part has its index.

    By column and key of the hit. In SQL, because making it takes longer than running it otherwise.
    """
    parts: list[str] = []
    values: list[int | str] = []
    for column, keys in hits.items():
        if keys:
            theirs = f"FROM workshop_ticket WHERE {column}_id IN ({_places(keys)})"
            parts.append(f"SELECT id {theirs} AND state IN ({_places(Ticket.OPEN_STATES)})")
            parts.append(f"SELECT MAX(id) {theirs} GROUP BY {column}_id")
            values += [*keys, *Ticket.OPEN_STATES, *keys]
    found: dict[tuple[str, int], list[Ticket]] = defaultdict(list)
    if parts:
        query = f"SELECT {_SPOKEN_OF} FROM workshop_ticket WHERE shop_id = %s AND id IN ({' UNION '.join(parts)})"  # noqa: S608  fixed names; values go apart
        for ticket in Ticket.objects.raw(query, [shop.pk, *values]):
            for column in hits:
                found[column, getattr(ticket, f"{column}_id")].append(ticket)
    return found


def _places(values: Sequence[object]) -> str:
    return ", ".join(["%s"] * len(values))
