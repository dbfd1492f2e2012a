"""What the booking page looks up while it is filled in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, QuerySet, Subquery

from specs.models import SuspensionModel
from workshop.counter.search import FEWEST_PHONE_DIGITS, find_customers
from workshop.customers.models import Bike, Customer
from workshop.promise.capacity import bench_of, capacity_of
from workshop.searching.candidates import WantedWords, candidates, holding
from workshop.searching.sources import UNIT
from workshop.staff.models import Shop
from workshop.suspension.model_names import keys_of_models
from workshop.suspension.models import Fitting, SuspensionUnit
from workshop.suspension.search_text import without_separators
from workshop.tickets.models import Ticket
from workshop.web.folding import digits, fold

MOST_HITS = 6
MOST_SERIALS = 4
FEWEST_LETTERS = 2
FEWEST_SERIAL = 4
_DAYS_SHOWN = 8


@dataclass(frozen=True)
class DayLoad:
    """A working day and how many open tickets are promised for it."""

    day: dt.date
    promised: int


def who_it_may_be(shop: Shop, name: str, phone: str) -> list[Customer]:
    """Known customers of that phone number or name, with their bikes; a phone number is the better guess."""
    found: dict[int, Customer] = {}
    if len(digits(phone)) >= FEWEST_PHONE_DIGITS + 1:
        found |= {one.pk: one for one in _with_bikes(find_customers(shop, phone))}
    if len(fold(name)) >= FEWEST_LETTERS:
        found |= {one.pk: one for one in _with_bikes(find_customers(shop, name)) if one.pk not in found}
    return list(found.values())[:MOST_HITS]


def _with_bikes(customers: QuerySet[Customer]) -> QuerySet[Customer]:
    return customers.prefetch_related("bikes")[:MOST_HITS]


def find_models(text: str) -> list[SuspensionModel]:
    """Models whose maker and name hold each word typed."""
    if len(fold(text)) < FEWEST_LETTERS:
        return []
    keys = keys_of_models(text)[:MOST_HITS]
    found = SuspensionModel.objects.in_bulk(keys)
    return [found[pk] for pk in keys if pk in found]


def model_meant(
    text: str, *, listed_for: str | None, chosen: int | None, hits: Sequence[SuspensionModel]
) -> int | None:
    """Which model stands for what is typed as make and model now; None where it stays in words.

    Args:
        listed_for: the text under which the choice was made; None where no list was shown.
        chosen: the model that was chosen then.
        hits: the models found under `text`, with the chosen one.

    A choice holds for the text it was made under. A text typed since is the newer word: it means the one model whose
    name it is, else the choice as far as that still fits, so that nobody's values stand beside another's fork.
    """
    now, was_shown = fold(text), listed_for is not None or chosen is not None
    before = now if listed_for is None else fold(listed_for)
    if was_shown and now in ("", before):
        return chosen
    named = [hit.pk for hit in hits if now in (fold(hit.maker, hit.name), fold(hit.name))]
    if len(named) == 1:
        return named[0]
    fits = {hit.pk for hit in hits if all(word in fold(hit.maker, hit.name) for word in now.split())}
    return chosen if chosen in fits else None


def known_units(customer: Customer) -> list[SuspensionUnit]:
    """A customer's units, the newest first, with `inside` (number of the open ticket) and `last_number`."""
    return list(with_tickets(SuspensionUnit.objects.filter(customer=customer)))


def units_of_serial(shop: Shop, serial: str) -> list[SuspensionUnit]:
    """Units anybody brought before whose serial holds what was typed, as `known_units`."""
    wanted = without_separators(serial)
    if len(wanted) < FEWEST_SERIAL:
        return []
    keys = candidates([holding(UNIT, shop.pk, WantedWords.of((wanted,)), MOST_HITS * 2)]).get(UNIT.kind, [])
    units = with_tickets(SuspensionUnit.objects.filter(pk__in=keys))
    found = [unit for unit in units if wanted in without_separators(unit.serial)]
    return found[:MOST_SERIALS]


def unit_with_tickets(unit: SuspensionUnit) -> SuspensionUnit:
    return with_tickets(SuspensionUnit.objects.filter(pk=unit.pk)).get()


def with_tickets(units: QuerySet[SuspensionUnit]) -> QuerySet[SuspensionUnit]:
    mine = Ticket.objects.filter(unit=OuterRef("pk")).order_by("-number").values("number")
    return (
        units.select_related("model", "customer")
        .annotate(
            inside=Subquery(mine.filter(state__in=Ticket.OPEN_STATES)[:1]),
            last_number=Subquery(mine[:1]),
        )
        .order_by("-pk")
    )


def known_bikes(customer: Customer, unit: SuspensionUnit | None) -> list[Bike]:
    """A customer's bikes with `carries`: whether the unit is fitted on it now."""
    fitted = Fitting.objects.filter(bike=OuterRef("pk"), unit=unit, until__isnull=True)
    return list(Bike.objects.filter(customer=customer).annotate(carries=Exists(fitted)))


def load_of_days(shop: Shop, today: dt.date) -> Sequence[DayLoad]:
    """The next working days and what is promised for each already, so that a promise can be kept."""
    days = [today + dt.timedelta(days=ahead) for ahead in range(_DAYS_SHOWN * 7 // 5 + 2)]
    bench = bench_of(capacity_of(shop), today)
    working = [day for day in days if bench.is_open(day)][:_DAYS_SHOWN] or days
    rows = (
        Ticket.objects.of_shop(shop)
        .open()
        .exclude(state=Ticket.State.READY)
        .filter(promised_on__range=(working[0], working[-1]))
        .order_by()
        .values_list("promised_on")
        .annotate(promised=Count("pk"))
    )
    promised = dict(rows)
    return [DayLoad(day, promised.get(day, 0)) for day in working]
