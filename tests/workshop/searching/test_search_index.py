"""The search index: what it finds against a plain scan, kept in step by the database, and doing without it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.db.migrations import RemoveField
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests import factories
from tests.made_migration import migration_of
from workshop.counter.search import find
from workshop.customers.models import Customer
from workshop.models import Shop
from workshop.searching import checks, installing
from workshop.searching.candidates import WantedWords, beginning, candidates, holding, sqlite_has_trigrams
from workshop.searching.sources import CUSTOMER, SOURCES, TICKET, SearchSource
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import Ticket
from workshop.tickets.words import TicketWords
from workshop.web.folding import fold

pytestmark = pytest.mark.django_db
ALL = 10_000
# Few letters, so that hits are common; what FTS5 and LIKE read as operators; letters beyond ASCII and beyond the BMP.
SIGNS = "abcd 12\"%_*^:()\\'-+{}.,ñþ漢𝄞"
TEXTS = st.text(SIGNS, max_size=14)


@pytest.fixture
def shop(db: None) -> Shop:
    return factories.ShopFactory()


@pytest.fixture
def without_index() -> Iterator[None]:
    """The triggers that keep the words of tickets stay, the trigrams are not there."""
    for source in SOURCES:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute(f"DROP INDEX {source.trigrams}")
            else:
                for name in ("in", "out", "anew"):
                    cursor.execute(f"DROP TRIGGER search_{source.kind}_{name}")
                cursor.execute(f"DROP TABLE {source.trigrams}")
    sqlite_has_trigrams.cache_clear()
    yield
    sqlite_has_trigrams.cache_clear()


def customers_with(shop: Shop, texts: list[str]) -> list[Customer]:
    return Customer.objects.bulk_create(Customer(shop=shop, name="x", search_text=text) for text in texts)


def keys(source: SearchSource, shop: Shop, *alternatives: tuple[str, ...]) -> list[int]:
    return candidates([holding(source, shop.pk, WantedWords.of(*alternatives), ALL)]).get(source.kind, [])


def holds(wanted: WantedWords, text: str) -> bool:
    """The plain meaning, as the database checks it once more on what its index offers."""
    return any(all(needle in f" {text}" for needle in needles) for needles in wanted.alternatives)


def check_against_a_plain_scan(shop: Shop, texts: list[str], typed: str) -> None:
    rows = customers_with(shop, [fold(text) for text in texts])
    words = tuple(fold(typed).split())
    wanted = WantedWords.of(words)
    assert set(keys(CUSTOMER, shop, words)) == {row.pk for row in rows if holds(wanted, row.search_text)}
    start = " ".join(words)
    begins = candidates([beginning(CUSTOMER, shop.pk, start, ALL)]).get("customer", [])
    assert set(begins) == {row.pk for row in rows if start and row.search_text.startswith(start)}


@given(texts=st.lists(TEXTS, max_size=12), typed=TEXTS)
@example(texts=['say "abc" OR abd', "abc"], typed='"abc" OR')
@example(texts=["100% abc", "1000 abc"], typed="100%")
@example(texts=["a_c", "abc"], typed="a_c")
@example(texts=["abc AND NOT(abd)"], typed="NOT(ab*")
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_index_finds_what_a_plain_scan_finds(shop: Shop, texts: list[str], typed: str) -> None:
    with transaction.atomic():
        check_against_a_plain_scan(shop, texts, typed)
        transaction.set_rollback(True)


@given(texts=st.lists(TEXTS, max_size=12), typed=TEXTS)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
def test_without_the_index_the_same_is_found(shop: Shop, without_index: None, texts: list[str], typed: str) -> None:
    with transaction.atomic():
        check_against_a_plain_scan(shop, texts, typed)
        transaction.set_rollback(True)


@pytest.mark.parametrize(
    "typed",
    ['"', "%", "_", "*", "'", '"""', "AND", "OR NOT", "NEAR(a b)", "text:abc", "^abc", "a*", "{a b}:c", "' OR 1=1 --",
     "\\", "%%", "\x00abc", "abc\x1fdef", "(((((", "-abc", "漢字かな", "\ud800"],
)  # fmt: skip
def test_hostile_input_is_only_text(shop: Shop, typed: str) -> None:
    factories.CustomerFactory(shop=shop, name="Jana", email="", phone="")
    assert find(shop, typed).count == 0


def test_an_alternative_that_another_takes_in_is_not_looked_up() -> None:
    assert WantedWords.of(("016320001",), ("16320001",), ("16320001",)).alternatives == (("16320001",),)
    assert WantedWords.of(("wren", "field"), ("wrenfield",), ("wren",)).alternatives == (("wren",),)
    apart = (("01632", "0001"), ("16320001",))
    assert WantedWords.of(*apart).alternatives == apart
    assert WantedWords.of(("ab cd",), (" ab",)).alternatives == (("ab cd",), (" ab",))


def test_a_word_and_a_blank_within_it_are_not_the_same(shop: Shop) -> None:
    joined, apart = customers_with(shop, ["wrenfield", "wren field"])
    assert keys(CUSTOMER, shop, ("wrenfield",)) == [joined.pk]
    assert keys(CUSTOMER, shop, ("wren", "field")) == [apart.pk, joined.pk]


def test_of_many_the_newest_are_offered(shop: Shop) -> None:
    rows = customers_with(shop, ["wren"] * 20)
    found = candidates([holding(CUSTOMER, shop.pk, WantedWords.of(("wren",)), 5)])["customer"]
    assert found == [row.pk for row in reversed(rows)][:5]


def test_rows_changed_without_the_write_functions_are_found_as_they_are_now(shop: Shop) -> None:
    (row,) = customers_with(shop, ["wrenfield"])
    Customer.objects.filter(pk=row.pk).update(search_text="sallowfen")
    assert keys(CUSTOMER, shop, ("wrenfield",)) == []
    assert keys(CUSTOMER, shop, ("sallowfen",)) == [row.pk]
    Customer.objects.filter(pk=row.pk).delete()
    assert keys(CUSTOMER, shop, ("sallowfen",)) == []


def test_a_ticket_is_found_by_its_customer_and_unit_as_they_are_now(shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop, customer__name="Odile Wrenfield")
    assert keys(TICKET, shop, ("wrenfield", "sits")) == [ticket.pk]
    Customer.objects.filter(pk=ticket.customer_id).update(search_text="odile sallowfen")
    SuspensionUnit.objects.filter(pk=ticket.unit_id).update(search_text="ostravane")
    assert keys(TICKET, shop, ("wrenfield",)) == []
    assert keys(TICKET, shop, ("sallowfen", "ostravane")) == [ticket.pk]


def test_a_ticket_that_changes_hands_is_found_by_the_new_owner(shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop, customer__name="Odile Wrenfield")
    other = factories.CustomerFactory(shop=shop, name="Bram Kettlebeck")
    Ticket.objects.filter(pk=ticket.pk).update(customer=other)
    assert keys(TICKET, shop, ("kettlebeck",)) == [ticket.pk]
    assert keys(TICKET, shop, ("wrenfield",)) == []


def test_a_deleted_ticket_leaves_no_words(shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop)
    ticket.delete()
    assert not TicketWords.objects.exists()
    assert keys(TICKET, shop, ("sits",)) == []


def test_rebuilding_finds_the_same_again(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    ticket = factories.TicketFactory(shop=shop, customer__name="Odile Wrenfield")
    installing.remove()
    customers_with(shop, ["wrenfield while nothing kept the index"])
    call_command("rebuild_search")
    assert "anew" in capsys.readouterr().out
    assert keys(TICKET, shop, ("wrenfield",)) == [ticket.pk]
    assert len(keys(CUSTOMER, shop, ("wrenfield",))) == 2


def test_migrations_take_the_index_away_and_bring_it_back(shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop, customer__name="Odile Wrenfield")

    installing.before_migrating(plan=[(migration_of(RemoveField("ticket", "search_text")), False)])
    assert installing.what_is_wanting()
    installing.after_migrating()
    assert installing.what_is_wanting() == ""
    assert keys(TICKET, shop, ("wrenfield",)) == [ticket.pk]


def test_a_database_without_trigrams_is_said_and_searched_all_the_same(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As where the user may not create pg_trgm, or SQLite was built without FTS5."""
    ticket = factories.TicketFactory(shop=shop, customer__name="Odile Wrenfield")

    def refuse(execute: Callable[..., Any], sql: str, *rest: Any) -> Any:
        if "EXTENSION" in sql or "USING fts5" in sql:
            raise DatabaseError("permission denied to create it")
        return execute(sql, *rest)

    with connection.execute_wrapper(refuse):
        call_command("rebuild_search")
    assert "permission denied" in capsys.readouterr().err
    (warning,) = checks.search_has_its_index(databases=["default"])
    assert "rebuild_search" in warning.msg
    assert [hit.ticket for hit in find(shop, "wrenfield").tickets] == [ticket]
    call_command("rebuild_search")
    assert checks.search_has_its_index(databases=["default"]) == []


def test_a_table_made_anew_without_its_trigger_gets_it_back(shop: Shop) -> None:
    """As a migration may leave it that runs past Django's command: the other triggers are there as before."""
    ticket = factories.TicketFactory(shop=shop)
    for_postgresql = "DROP FUNCTION search_unit_of_ticket_changed() CASCADE"
    with connection.cursor() as cursor:
        cursor.execute(
            for_postgresql if connection.vendor == "postgresql" else "DROP TRIGGER search_unit_of_ticket_changed"
        )
    SuspensionUnit.objects.filter(pk=ticket.unit_id).update(search_text="newlystamped")
    assert "newlystamped" not in TicketWords.objects.get(ticket=ticket).text
    installing.after_migrating()
    assert "newlystamped" in TicketWords.objects.get(ticket=ticket).text.split()
