"""A filter by shop left out on purpose is caught, of the records asked for most: what is asked then ends otherwise.

The own filter of each is taken out of every query, as somebody could forget it, and addresses are asked again in which
that filter stood: a page has to change, or a neighbour's number has to open something.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db.models.sql.query import Query
from django.db.models.sql.where import WhereNode
from django.test import Client
from django.urls import reverse

from tests.a_row_of_each import add_what_it_lacks
from tests.addresses import parts_of
from tests.full_shop import FullShop, full_shop
from tests.workshop.test_shops_apart import (
    DIFFERS_EACH_TIME,
    FILTERS,
    LAID_OUT_ANEW,
    NOT_THERE_IS_FINE,
    OPENED_BY_A_SECRET,
    WAY_TO_THE_SHOP,
    WAYS,
    shown,
    with_one_part_of_another,
)
from tests.workshop.test_who_may_enter import LEAST_SENT, the_table, undone

# A record, and a page that asks for it by its shop.
MOST_ASKED = {
    "Ticket": "counter:ticket", "Customer": "counter:customer", "StockItem": "stores:item", "User": "office:staff",
    "SuspensionUnit": "counter:unit", "Message": "office:reminders_outbox",
}  # fmt: skip


def names_the_shop(model: str, asked: str) -> bool:
    """Whether what a query of this record asks leads to the shop itself."""
    way, parts = WAY_TO_THE_SHOP[model].split("__"), asked.split("__")
    if parts[: len(way)] == way:
        return set(parts[len(way) :]) <= {"pk", "id", "exact", "in"}
    return parts == [*way[:-1], f"{way[-1]}_id"]


def names_its_parent(model: str, asked: str) -> bool:
    """Whether it leads to the one record through which this one belongs to a shop, as a view asks that has it."""
    first = WAY_TO_THE_SHOP[model].partition("__")[0]
    return asked in {first, f"{first}_id", f"{first}__pk"}


@dataclass
class Filters:
    """What every query asks, while `watched`: which records' filters it has, and whose is taken out of it."""

    left_out: str = ""
    by_parent: bool = False
    met: set[tuple[str, bool]] = field(default_factory=set)

    def takes_out(self, query: Query, asked: Any) -> bool:
        model = query.model.__name__ if query.model else ""
        if model not in WAY_TO_THE_SHOP or not isinstance(asked, tuple):
            return False
        kinds = {False: names_the_shop(model, asked[0]), True: names_its_parent(model, asked[0])}
        self.met |= {(model, by_parent) for by_parent, so in kinds.items() if so}
        return model == self.left_out and kinds[self.by_parent]


@contextmanager
def watched() -> Iterator[Filters]:
    filters, build = Filters(), Query.build_filter

    def build_filter(self: Query, filter_expr: Any, *given: Any, **named: Any) -> Any:
        if filters.takes_out(self, filter_expr):
            return WhereNode(), set()  # all rows
        return build(self, filter_expr, *given, **named)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Query, "build_filter", build_filter)
        yield filters


@dataclass(frozen=True)
class Asked:
    """A request as the tests of shops apart make it, and what comes back while everything is right."""

    method: str
    address: str
    sent: tuple[tuple[str, Any], ...]
    answer: str

    def changes(self, client: Client) -> bool:
        """Whether it ends otherwise now; an error is one of the ways in which a test fails."""
        try:
            return answer_to(client, self.method, self.address, dict(self.sent)) != self.answer
        except Exception:  # whatever a query that finds too much brings about
            return True


def answer_to(client: Client, method: str, address: str, sent: dict[str, Any]) -> str:
    response = undone(client, method, address, sent)
    return f"{response.status_code} {DIFFERS_EACH_TIME.sub('', shown(response)) if method == 'get' else ''}"


def requests_of(ours: FullShop, theirs: FullShop, names: Collection[str]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Pages of the shop; their addresses with a number of the other shop, or of another of its tickets."""
    for name, row in the_table().items():
        if name not in names:
            continue
        own = ours.arguments(name, parts_of(name))
        if row["get"] not in {"-", "link"} and name not in {"sign_in"} | LAID_OUT_ANEW:
            yield "get", f"{reverse(name, kwargs=own)}?{urlencode(FILTERS)}", {}
        if name in OPENED_BY_A_SECRET | NOT_THERE_IS_FINE:
            continue
        addresses = [address for _, address in with_one_part_of_another(name, ours, theirs)]
        if "number" in own and {"pk", "run_pk", "revision"} & set(own):
            addresses.append(reverse(name, kwargs={**own, "number": ours.ready.number}))
        sent = {part: theirs.ids.get(value, value) for part, value in LEAST_SENT.get(name, {}).items()}
        yield from (
            (method, address, sent) for method in ("get", "post") if row[method] != "-" for address in addresses
        )


@pytest.fixture
def shops(client: Client, db: None) -> tuple[FullShop, FullShop]:
    """Ours, whose owner is signed in, and another one."""
    ours = full_shop("Aldermoor")
    client.force_login(ours.owner)
    theirs = full_shop("Quillback", first_number=700, beside=ours)
    add_what_it_lacks(theirs, WAYS)
    return ours, theirs


def test_the_neighbour_has_a_row_of_every_record(shops: tuple[FullShop, FullShop]) -> None:
    """What has none could be filtered or not: nobody would see it."""
    shop = shops[1].shop
    assert [model.__name__ for model, way in WAYS.items() if not model._default_manager.filter(**{way: shop})] == []


def unseen(
    client: Client, shops: tuple[FullShop, FullShop], names: Collection[str], models: Collection[str]
) -> dict[str, int]:
    """Records whose filter could be left out without a request to these addresses that ends otherwise.

    Returns how many requests ask for each by shop, or by what it hangs on.
    """
    where: dict[tuple[str, bool], list[Asked]] = defaultdict(list)
    missed = {}
    with watched() as filters:
        for method, address, sent in requests_of(*shops, names):
            filters.met.clear()
            asked = Asked(method, address, tuple(sent.items()), answer_to(client, method, address, sent))
            for met in filters.met:
                where[met].append(asked)
        for model in models:
            by_parent = (model, False) not in where
            filters.left_out, filters.by_parent = model, by_parent
            tried = where[model, by_parent]
            if not any(asked.changes(client) for asked in tried):
                missed[model] = len(tried)
        filters.left_out = ""
    return missed


def test_what_is_asked_most_would_be_seen_without_its_filter(client: Client, shops: tuple[FullShop, FullShop]) -> None:
    assert unseen(client, shops, MOST_ASKED.values(), MOST_ASKED.keys()) == {}


def test_a_filter_that_nothing_asks_for_is_told(client: Client, shops: tuple[FullShop, FullShop]) -> None:
    """That the test above can fail: the page of calculators shows nobody’s customers."""
    assert unseen(client, shops, ["sums:sum"], ["Customer"]) == {"Customer": 0}
