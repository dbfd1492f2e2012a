"""Find whatever somebody at the counter can name: a person, a phone number, a bike, a serial or a ticket."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Case, IntegerField, Max, QuerySet, Value, When

from workshop.customers.models import Bike, Customer
from workshop.searching.candidates import (
    Lookup,
    Wanted,
    beginning,
    candidates,
    holding,
    holding_inside,
    numbered,
)
from workshop.searching.sources import BIKE, CUSTOMER, TICKET, UNIT
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.units.models import SuspensionUnit
from workshop.units.search_text import without_separators
from workshop.web.folding import digits, fold

FEWEST_PHONE_DIGITS = 3
MOST_CUSTOMERS = 200
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
    def in_customers(self) -> Wanted:
        """Words, or a phone number however it was spaced, with or without the country's prefix."""
        return Wanted.of(self.words, *((phone,) for phone in self.phones))

    @property
    def in_units(self) -> Wanted:
        return Wanted.of(self.words, (self.serial,) if len(self.serial) >= FEWEST_PHONE_DIGITS else ())


def find(shop: Shop, text: str, limit: int = 8) -> SearchResults:
    """What the shop knows under a part of a name, phone number, serial, bike or ticket number.

    Takes six queries, however many records there are; at most `limit` hits of each kind.
    """
    read = _read(text)
    if not read.words:
        return SearchResults(text=text)
    found = candidates(
        [
            *_ticket_lookups(shop, read, limit + 1),
            *_customer_lookups(shop, read, limit + 1),
            holding(UNIT, shop.pk, read.in_units, limit + 1),
            beginning(UNIT, shop.pk, read.start, limit + 1),
            holding(BIKE, shop.pk, Wanted.of(read.words), limit + 1),
            beginning(BIKE, shop.pk, read.start, limit + 1),
        ]
    )
    tickets = _tickets(found.get("ticket", []), read)[: limit + 1]
    customers = list(_customers(found.get("customer", []), read)[: limit + 1])
    units = list(_units(found.get("unit", []))[: limit + 1])
    bikes = list(_bikes(found.get("bike", []))[: limit + 1])
    lists: dict[str, list[object]] = {
        "tickets": [*tickets], "customers": [*customers], "units": [*units], "bikes": [*bikes],
    }  # fmt: skip
    spoken_of = _tickets_to_speak_of(shop, customers[:limit], units[:limit], bikes[:limit])
    by_customer, by_unit, by_bike = _grouped(spoken_of)
    return SearchResults(
        text=text,
        tickets=[TicketHit(ticket, _matched_in_ticket(ticket, read)) for ticket in tickets[:limit]],
        customers=[
            CustomerHit(customer, _matched_in_customer(customer, read), current(by_customer[customer.pk]))
            for customer in customers[:limit]
        ],
        units=[UnitHit(unit, _matched_in_unit(unit, read), current(by_unit[unit.pk])) for unit in units[:limit]],
        bikes=[BikeHit(bike, _matched_in_bike(bike, read), current(by_bike[bike.pk])) for bike in bikes[:limit]],
        more=frozenset(kind for kind, rows in lists.items() if len(rows) > limit),
    )


def find_customers(shop: Shop, text: str) -> QuerySet[Customer]:
    """Customers whose name, phone or email holds what was typed; names that begin with it come first.

    Looks at no more than the first MOST_CUSTOMERS that begin with it and the newest MOST_CUSTOMERS that hold it.
    """
    read = _read(text)
    found = candidates(_customer_lookups(shop, read, MOST_CUSTOMERS)) if read.words else {}
    return _customers(found.get("customer", []), read)


def current(tickets: Iterable[Ticket]) -> list[Ticket]:
    """The tickets to speak of: all that are in the shop, else the last one."""
    newest_first = sorted(tickets, key=lambda ticket: -ticket.number)
    return [ticket for ticket in newest_first if ticket.is_open] or newest_first[:1]


def _read(text: str) -> _Read:
    folded = fold("".join(c if c.isprintable() else " " for c in text[:_LONGEST_TEXT]))
    only_digits = digits(folded)
    number_text = folded.removeprefix("ticket").strip().lstrip("#").strip()
    number = int(number_text) if number_text.isascii() and number_text.isdigit() and len(number_text) < 11 else None
    is_phone = len(only_digits) >= FEWEST_PHONE_DIGITS and not any(c.isalpha() for c in folded)
    national = only_digits.lstrip("0")[-_NATIONAL_DIGITS:]
    phones = [only_digits, *([national] if len(national) >= FEWEST_PHONE_DIGITS else [])] if is_phone else []
    return _Read(
        words=tuple(folded.split()),
        phones=tuple(phones),
        serial=without_separators(folded),
        number=number if number is not None and number <= _LARGEST_NUMBER else None,
    )


def _customer_lookups(shop: Shop, read: _Read, most_beginning: int) -> list[Lookup | None]:
    return [
        beginning(CUSTOMER, shop.pk, read.start, most_beginning),
        holding(CUSTOMER, shop.pk, read.in_customers, MOST_CUSTOMERS),
    ]


def _customers(found: Sequence[int], read: _Read) -> QuerySet[Customer]:
    begins_first = Case(
        When(search_text__startswith=read.start, then=Value(0)), default=Value(1), output_field=IntegerField()
    )
    return Customer.objects.filter(pk__in=found).annotate(rank=begins_first).order_by("rank", "search_text", "pk")


def _ticket_lookups(shop: Shop, read: _Read, most: int) -> list[Lookup | None]:
    """By number; else by words of the complaint, the customer or the unit, what is in the shop before the rest."""
    if read.number is not None:
        return [*numbered(shop.pk, read.number, most)]
    wanted = Wanted.of(read.words)
    return [
        holding_inside(shop.pk, Ticket.OPEN_STATES, wanted, most),
        holding(TICKET, shop.pk, wanted, most),
    ]


def _tickets(found: Sequence[int], read: _Read) -> list[Ticket]:
    """The ticket of the number typed, or what is in the shop, before the rest; of each the newest first."""

    def comes_first(ticket: Ticket) -> bool:
        return ticket.is_open if read.number is None else ticket.number == read.number

    rows = Ticket.objects.filter(pk__in=found).for_rows("customer__search_text", "unit__search_text")
    return sorted(rows, key=lambda ticket: (not comes_first(ticket), -ticket.number))


def _units(found: Sequence[int]) -> QuerySet[SuspensionUnit]:
    return SuspensionUnit.objects.filter(pk__in=found).select_related("model", "customer").order_by("-pk")


def _bikes(found: Sequence[int]) -> QuerySet[Bike]:
    return Bike.objects.filter(pk__in=found).select_related("customer").order_by("description", "-pk")


def _tickets_to_speak_of(
    shop: Shop, customers: Sequence[Customer], units: Sequence[SuspensionUnit], bikes: Sequence[Bike]
) -> list[Ticket]:
    """Open tickets of the hits and the newest ticket of each, in one query: a union, where each part has its index."""
    keys = []
    for hits, column in ((customers, "customer"), (units, "unit"), (bikes, "bike")):
        theirs = Ticket.objects.filter(**{f"{column}__in": hits}).order_by()
        keys += [theirs.open().values("pk"), theirs.values(column).annotate(last=Max("pk")).values("last")]
    found = Ticket.objects.of_shop(shop).filter(pk__in=keys[0].union(*keys[1:])).order_by()
    return list(found.only("number", "state", "waiting_for", "state_since", "customer", "unit", "bike"))


def _grouped(
    tickets: Iterable[Ticket],
) -> tuple[dict[int, list[Ticket]], dict[int, list[Ticket]], dict[int | None, list[Ticket]]]:
    by_customer: dict[int, list[Ticket]] = defaultdict(list)
    by_unit: dict[int, list[Ticket]] = defaultdict(list)
    by_bike: dict[int | None, list[Ticket]] = defaultdict(list)
    for ticket in tickets:
        by_customer[ticket.customer_id].append(ticket)
        by_unit[ticket.unit_id].append(ticket)
        by_bike[ticket.bike_id].append(ticket)
    return by_customer, by_unit, by_bike


def _matched_in_customer(customer: Customer, read: _Read) -> str:
    if _any_word(read.words, customer.name):
        return "name"
    return "phone" if read.phones or _any_word(read.words, digits(customer.phone)) else "email"


def _matched_in_unit(unit: SuspensionUnit, read: _Read) -> str:
    in_serial = read.serial and read.serial in without_separators(unit.serial)
    return "serial" if in_serial else "make and model"


def _matched_in_bike(bike: Bike, read: _Read) -> str:
    return "bike" if _any_word(read.words, bike.description) else "frame number"


def _matched_in_ticket(ticket: Ticket, read: _Read) -> str:
    if read.number is not None:
        return _BY_NUMBER if read.number == ticket.number else "start of the number"
    if _any_word(read.words, ticket.customer.search_text):
        return "customer"
    if _any_word(read.words, ticket.unit.search_text):
        return "fork or shock"
    return "the customer's words" if _any_word(read.words, ticket.complaint_words) else "notes"


def _any_word(words: Iterable[str], text: str) -> bool:
    folded = fold(text)
    return any(word in folded for word in words)
