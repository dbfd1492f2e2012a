"""Find whatever somebody at the counter can name: a person, a phone number, a bike, a serial or a ticket."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db.models import Case, IntegerField, Max, Q, QuerySet, Value, When

from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.units.models import SuspensionUnit
from workshop.units.search_text import without_separators
from workshop.web.folding import digits, fold

FEWEST_PHONE_DIGITS = 3
_NATIONAL_DIGITS = 9
_LONGEST_TEXT = 120
_LARGEST_NUMBER = 2**31 - 1


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


@dataclass(frozen=True)
class _Wanted:
    """What was typed, read in the ways it can be meant."""

    words: tuple[str, ...]
    phone: str
    serial: str
    number: int | None

    @property
    def start(self) -> str:
        return " ".join(self.words)


def find(shop: Shop, text: str, limit: int = 8) -> SearchResults:
    """What the shop knows under a part of a name, phone number, serial, bike or ticket number.

    Takes five queries, however many records there are; at most `limit` hits of each kind.
    """
    wanted = _read(text)
    if not wanted.words:
        return SearchResults(text=text)
    tickets = list(_tickets(shop, wanted)[: limit + 1])
    customers = list(find_customers(shop, text)[: limit + 1])
    units = list(_units(shop, wanted)[: limit + 1])
    bikes = list(_bikes(shop, wanted)[: limit + 1])
    lists: dict[str, list[object]] = {
        "tickets": [*tickets], "customers": [*customers], "units": [*units], "bikes": [*bikes],
    }  # fmt: skip
    spoken_of = _tickets_to_speak_of(shop, customers[:limit], units[:limit], bikes[:limit])
    by_customer, by_unit, by_bike = _grouped(spoken_of)
    return SearchResults(
        text=text,
        tickets=[TicketHit(ticket, _matched_in_ticket(ticket, wanted)) for ticket in tickets[:limit]],
        customers=[
            CustomerHit(customer, _matched_in_customer(customer, wanted), current(by_customer[customer.pk]))
            for customer in customers[:limit]
        ],
        units=[UnitHit(unit, _matched_in_unit(unit, wanted), current(by_unit[unit.pk])) for unit in units[:limit]],
        bikes=[BikeHit(bike, _matched_in_bike(bike, wanted), current(by_bike[bike.pk])) for bike in bikes[:limit]],
        more=frozenset(kind for kind, rows in lists.items() if len(rows) > limit),
    )


def find_customers(shop: Shop, text: str) -> QuerySet[Customer]:
    """Customers whose name, phone or email holds what was typed; names that begin with it come first."""
    wanted = _read(text)
    if not wanted.words:
        return Customer.objects.none()
    return (
        Customer.objects.filter(shop=shop)
        .filter(_all_words("search_text", wanted.words) | _phone("search_text", wanted.phone))
        .annotate(rank=_starts("search_text", wanted.start))
        .order_by("rank", "name", "pk")
    )


def find_units(shop: Shop, text: str) -> QuerySet[SuspensionUnit]:
    """Units whose make, model or serial (however it is punctuated) holds what was typed."""
    return _units(shop, _read(text))


def current(tickets: Iterable[Ticket]) -> list[Ticket]:
    """The tickets to speak of: all that are in the shop, else the last one."""
    newest_first = sorted(tickets, key=lambda ticket: -ticket.number)
    return [ticket for ticket in newest_first if ticket.is_open] or newest_first[:1]


def _read(text: str) -> _Wanted:
    folded = fold("".join(c if c.isprintable() else " " for c in text[:_LONGEST_TEXT]))
    only_digits = digits(folded)
    number_text = folded.removeprefix("ticket").strip().lstrip("#").strip()
    number = int(number_text) if number_text.isascii() and number_text.isdigit() and len(number_text) < 11 else None
    is_phone = bool(only_digits) and not any(c.isalpha() for c in folded)
    return _Wanted(
        words=tuple(folded.split()),
        phone=only_digits if is_phone and len(only_digits) >= FEWEST_PHONE_DIGITS else "",
        serial=without_separators(folded),
        number=number if number is not None and number <= _LARGEST_NUMBER else None,
    )


def _all_words(column: str, words: Iterable[str]) -> Q:
    condition = Q()
    for word in words:
        condition &= Q(**{f"{column}__contains": word})
    return condition


def _phone(column: str, phone: str) -> Q:
    """A number however it was spaced, with or without the country's prefix."""
    if not phone:
        return Q(pk__in=[])
    condition = Q(**{f"{column}__contains": phone})
    national = phone.lstrip("0")[-_NATIONAL_DIGITS:]
    return condition | Q(**{f"{column}__contains": national}) if len(national) >= FEWEST_PHONE_DIGITS else condition


def _starts(column: str, start: str) -> Case:
    return Case(When(**{f"{column}__startswith": start}, then=Value(0)), default=Value(1), output_field=IntegerField())


def _tickets(shop: Shop, wanted: _Wanted) -> QuerySet[Ticket]:
    """By number; else by words of the complaint, the customer or the unit, what is in the shop first."""
    tickets = Ticket.objects.of_shop(shop).with_names()
    if wanted.number is not None:
        return tickets.filter(number=wanted.number)
    for word in wanted.words:
        tickets = tickets.filter(
            Q(search_text__contains=word)
            | Q(customer__search_text__contains=word)
            | Q(unit__search_text__contains=word)
        )
    inside_first = Case(
        When(state__in=Ticket.OPEN_STATES, then=Value(0)), default=Value(1), output_field=IntegerField()
    )
    return tickets.order_by(inside_first, "-number")


def _units(shop: Shop, wanted: _Wanted) -> QuerySet[SuspensionUnit]:
    condition = _all_words("search_text", wanted.words)
    if len(wanted.serial) >= FEWEST_PHONE_DIGITS:
        condition |= Q(search_text__contains=wanted.serial)
    return (
        SuspensionUnit.objects.filter(shop=shop).filter(condition).select_related("model", "customer").order_by("-pk")
    )


def _bikes(shop: Shop, wanted: _Wanted) -> QuerySet[Bike]:
    return (
        Bike.objects.filter(customer__shop=shop)
        .filter(_all_words("search_text", wanted.words))
        .select_related("customer")
        .order_by("description", "-pk")
    )


def _tickets_to_speak_of(
    shop: Shop, customers: Sequence[Customer], units: Sequence[SuspensionUnit], bikes: Sequence[Bike]
) -> list[Ticket]:
    """Open tickets of the hits and the newest ticket of each, in one query."""
    of_customers, of_units, of_bikes = Q(customer__in=customers), Q(unit__in=units), Q(bike__in=bikes)
    mine = Ticket.objects.of_shop(shop)
    newest = [
        mine.filter(condition).order_by().values(column).annotate(last=Max("number")).values("last")
        for condition, column in ((of_customers, "customer"), (of_units, "unit"), (of_bikes, "bike"))
    ]
    wanted = of_customers | of_units | of_bikes
    last_of_any = Q(number__in=newest[0]) | Q(number__in=newest[1]) | Q(number__in=newest[2])
    return list(mine.with_names().filter(wanted).filter(Q(state__in=Ticket.OPEN_STATES) | last_of_any))


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


def _matched_in_customer(customer: Customer, wanted: _Wanted) -> str:
    if _any_word(wanted.words, customer.name):
        return "name"
    return "phone" if wanted.phone or _any_word(wanted.words, digits(customer.phone)) else "email"


def _matched_in_unit(unit: SuspensionUnit, wanted: _Wanted) -> str:
    in_serial = wanted.serial and wanted.serial in without_separators(unit.serial)
    return "serial" if in_serial else "make and model"


def _matched_in_bike(bike: Bike, wanted: _Wanted) -> str:
    return "bike" if _any_word(wanted.words, bike.description) else "frame number"


def _matched_in_ticket(ticket: Ticket, wanted: _Wanted) -> str:
    if wanted.number == ticket.number:
        return "ticket number"
    if _any_word(wanted.words, ticket.customer.search_text):
        return "customer"
    if _any_word(wanted.words, ticket.unit.search_text):
        return "fork or shock"
    return "the customer's words" if _any_word(wanted.words, ticket.complaint_words) else "notes"


def _any_word(words: Iterable[str], text: str) -> bool:
    folded = fold(text)
    return any(word in folded for word in words)
