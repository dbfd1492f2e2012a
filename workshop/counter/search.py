"""Find whatever somebody at the counter can name: a person, a phone number, a bike, a serial or a ticket."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Case, IntegerField, QuerySet, Value, When

from workshop.counter.hits import bikes_found, hit_records, tickets_found
from workshop.customers.models import Bike, Customer
from workshop.searching.candidates import (
    Lookup,
    WantedWords,
    beginning,
    candidates,
    ending,
    ending_inside,
    holding,
    holding_inside,
    tickets_numbered,
)
from workshop.searching.sources import BIKE, CUSTOMER, TICKET, UNIT
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.search_text import without_separators
from workshop.suspension.unit_fields import SEARCHED
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.folding import digits, fold

FEWEST_PHONE_DIGITS = 3
MOST_CUSTOMERS = 200
MOST_INSIDE = 6
_PUT_IN_ORDER = 60
_NATIONAL_DIGITS = 9
_LONGEST_TEXT = 120
_LARGEST_NUMBER = 2**31 - 1
_BY_NUMBER = "ticket number"


@dataclass(frozen=True)
class CustomerHit:
    """A customer, what matched, and their tickets to speak of: those in the shop, else the last one."""

    customer: Customer
    matched: str
    tickets: Sequence[Ticket] = ()


@dataclass(frozen=True)
class BikeHit:
    bike: Bike
    matched: str
    tickets: Sequence[Ticket] = ()


@dataclass(frozen=True)
class UnitHit:
    unit: SuspensionUnit
    matched: str
    tickets: Sequence[Ticket] = ()


@dataclass(frozen=True)
class TicketHit:
    ticket: Ticket
    matched: str


@dataclass(frozen=True)
class SearchResults:
    """Hits of each kind, the best first. `more` names the kinds of which there are more than shown."""

    text: str
    tickets: Sequence[TicketHit] = ()
    customers: Sequence[CustomerHit] = ()
    units: Sequence[UnitHit] = ()
    bikes: Sequence[BikeHit] = ()
    more: frozenset[str] = field(default_factory=frozenset)

    @property
    def count(self) -> int:
        return len(self.tickets) + len(self.customers) + len(self.units) + len(self.bikes)

    @property
    def inside(self) -> list[int]:
        """The numbers of what is in the shop among all hits, each once, a few at most."""
        beside = (ticket for hits in (self.customers, self.units, self.bikes) for hit in hits for ticket in hit.tickets)
        every = [*(hit.ticket for hit in self.tickets), *beside]
        return list(dict.fromkeys(ticket.number for ticket in every if ticket.is_open))[:MOST_INSIDE]

    @property
    def is_one_ticket(self) -> bool:
        """Whether what was typed is a ticket's own number, and the start of nothing but longer numbers."""
        others = len(self.customers) + len(self.units) + len(self.bikes)
        return bool(self.tickets) and not others and self.tickets[0].matched == _BY_NUMBER


@dataclass(frozen=True)
class _Read:
    """What was typed, read in the ways it can be meant."""

    words: tuple[str, ...]
    phones: tuple[str, ...]
    serial: str
    number: int | None

    @property
    def start(self) -> str:
        return " ".join(self.words)

    @property
    def phone_end(self) -> str:
        """The digits that a phone number may end with; "" where it is no number that was typed."""
        return self.phones[0] if self.phones else ""

    @property
    def in_customers(self) -> WantedWords:
        """Words, or a phone number however it was spaced, with or without the country's prefix."""
        return WantedWords.of(self.words, *((phone,) for phone in self.phones))

    @property
    def in_units(self) -> WantedWords:
        return WantedWords.of(self.words, (self.serial,) if len(self.serial) >= FEWEST_PHONE_DIGITS else ())


def find(shop: Shop, text: str, limit: int = 8) -> SearchResults:
    """What the shop knows under a part of a name, phone number, serial, bike or ticket number.

    Takes six queries, however many records there are; at most `limit` hits of each kind.
    """
    read = _read(text)
    if not read.words:
        return SearchResults(text=text)
    most = limit + 1  # one more tells that there are more
    found = candidates(
        [
            *_ticket_lookups(shop, read, most),
            ending(CUSTOMER, shop.pk, read.phone_end, most),
            beginning(CUSTOMER, shop.pk, read.start, most),
            holding(CUSTOMER, shop.pk, read.in_customers, _PUT_IN_ORDER, by_text=2 * most),  # some begin with it
            holding(UNIT, shop.pk, read.in_units, most),
            beginning(UNIT, shop.pk, read.start, most),
            holding(BIKE, shop.pk, WantedWords.of(read.words), most),
            beginning(BIKE, shop.pk, read.start, most),
        ]
    )
    tickets = _in_order(tickets_found(found.get("ticket", [])), read)[:most]
    bikes = list(bikes_found(found.get("bike", []))[:most])
    customers = found.get("customer", [])[:most]
    units = sorted(found.get("unit", []), reverse=True)[:most]
    kinds: dict[str, Sequence[object]] = {
        "tickets": tickets, "customers": customers, "units": units, "bikes": bikes,
    }  # fmt: skip
    records = hit_records(
        shop, tickets=tickets[:limit], customers=customers[:limit], units=units[:limit], bikes=bikes[:limit]
    )
    spoken_of = records.spoken_of
    return SearchResults(
        text=text,
        tickets=[TicketHit(ticket, _matched_in_ticket(ticket, read)) for ticket in records.tickets],
        customers=[
            CustomerHit(customer, _matched_in_customer(customer, read), current(spoken_of["customer", customer.pk]))
            for customer in records.customers
        ],
        units=[
            UnitHit(unit, _matched_in_unit(unit, read), current(spoken_of["unit", unit.pk])) for unit in records.units
        ],
        bikes=[
            BikeHit(bike, _matched_in_bike(bike, read), current(spoken_of["bike", bike.pk])) for bike in records.bikes
        ],
        more=frozenset(kind for kind, rows in kinds.items() if len(rows) > limit),
    )


def find_customers(shop: Shop, text: str) -> QuerySet[Customer]:
    """Customers whose name, phone or email holds what was typed; names that begin with it come first.

    Looks at no more than the first MOST_CUSTOMERS that begin with it and the newest MOST_CUSTOMERS that hold it.
    """
    read = _read(text)
    found = []
    if read.words:
        lookups = [
            beginning(CUSTOMER, shop.pk, read.start, MOST_CUSTOMERS),
            holding(CUSTOMER, shop.pk, read.in_customers, MOST_CUSTOMERS),
        ]
        found = candidates(lookups).get("customer", [])
    begins_first = Case(
        When(search_text__startswith=read.start, then=Value(0)), default=Value(1), output_field=IntegerField()
    )
    return Customer.objects.filter(pk__in=found).annotate(rank=begins_first).order_by("rank", "search_text", "pk")


def current(tickets: Iterable[Ticket]) -> list[Ticket]:
    """The tickets to speak of: all that are in the shop, else the last one."""
    newest_first = sorted(tickets, key=lambda ticket: -ticket.number)
    return [ticket for ticket in newest_first if ticket.is_open] or newest_first[:1]


def _read(text: str) -> _Read:
    folded = fold("".join(c if c.isprintable() else " " for c in text[:_LONGEST_TEXT]))
    only_digits = digits(folded)
    number_text = folded.removeprefix("ticket").strip().lstrip("#").strip()
    number = key_from(number_text)
    is_phone = len(only_digits) >= FEWEST_PHONE_DIGITS and not any(c.isalpha() for c in folded)
    national = only_digits.lstrip("0")[-_NATIONAL_DIGITS:]
    phones = [only_digits, *([national] if len(national) >= FEWEST_PHONE_DIGITS else [])] if is_phone else []
    return _Read(
        words=tuple(folded.split()),
        phones=tuple(phones),
        serial=without_separators(folded),
        number=number if number is not None and number <= _LARGEST_NUMBER else None,
    )


def _ticket_lookups(shop: Shop, read: _Read, most: int) -> list[Lookup | None]:
    """By number; else by words of the complaint, the customer or the unit, what is in the shop before the rest.

    What is in the shop is found by the ending of its customer's phone as well.
    """
    by_phone = ending_inside(shop.pk, Ticket.OPEN_STATES, read.phone_end, most)
    if read.number is not None:
        return [*tickets_numbered(shop.pk, read.number, most), by_phone]
    wanted = WantedWords.of(read.words)
    return [
        by_phone,
        holding_inside(shop.pk, Ticket.OPEN_STATES, wanted, most),
        holding(TICKET, shop.pk, wanted, most),
    ]


def _in_order(tickets: Iterable[Ticket], read: _Read) -> list[Ticket]:
    """The ticket of the number typed, what is in the shop by words or phone, and the rest; of each the newest first."""

    def place(ticket: Ticket) -> int:
        if read.number is None:
            return 0 if ticket.is_open else 2
        return 0 if ticket.number == read.number else 2 if _begins_so(ticket, read) else 1

    return sorted(tickets, key=lambda ticket: (place(ticket), -ticket.number))


def _begins_so(ticket: Ticket, read: _Read) -> bool:
    return str(ticket.number).startswith(str(read.number))


def _matched_in_customer(customer: Customer, read: _Read) -> str:
    if _any_word(read.words, customer.name):
        return "name"
    return "phone" if read.phones or _any_word(read.words, digits(customer.phone)) else "email"


def _matched_in_unit(unit: SuspensionUnit, read: _Read) -> str:
    if read.serial and read.serial in without_separators(unit.serial):
        return "serial"
    if _any_word(read.words, unit.title):
        return "make and model"
    noted = (field.label.lower() for field in SEARCHED if _any_word(read.words, getattr(unit, field.name)))
    return next(noted, "make and model")


def _matched_in_bike(bike: Bike, read: _Read) -> str:
    return "bike" if _any_word(read.words, bike.description) else "frame number"


def _matched_in_ticket(ticket: Ticket, read: _Read) -> str:
    if read.number is not None and _begins_so(ticket, read):
        return _BY_NUMBER if read.number == ticket.number else "start of the number"
    if read.phone_end and any(digits(one).endswith(read.phone_end) for one in ticket.customer.phones):
        return "phone"
    if _any_word(read.words, ticket.customer.search_text):
        return "customer"
    if _any_word(read.words, ticket.unit.search_text):
        return "fork or shock"
    return "the customer’s words" if _any_word(read.words, ticket.complaint_words) else "notes"


def _any_word(words: Iterable[str], text: str) -> bool:
    folded = fold(text)
    return any(word in folded for word in words)
