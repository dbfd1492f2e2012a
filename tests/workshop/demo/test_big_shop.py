"""The big demo shop: as many rows as asked for, valid ones, and only in an empty database."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterator

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone
from pytest_django.plugin import DjangoDbBlocker

from diagnosis.models import Tick
from tests import factories
from tests.known import known
from tests.made_once import made_once
from workshop.charges.models import FinalCharges
from workshop.counter.search import find
from workshop.customers.models import Customer
from workshop.demo.big_shop import NotEmpty, make_big_shop
from workshop.demo.long_past import Sizes
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.models import StateMove, Ticket, TicketEvent, TicketRun

pytestmark = pytest.mark.django_db
SIZES = Sizes(tickets=30, customers=10, units=15)
OF_THE_PAST = "It has been so"


def _schema() -> list[tuple[str, ...]]:
    """Every index in the order in which the database tries them, and every rule, in the database's words."""
    query = (
        """SELECT indrelid::regclass::text, pg_get_indexdef(indexrelid) FROM pg_index
        WHERE indrelid::regclass::text LIKE ANY (ARRAY['workshop%', 'diagnosis%', 'specs%'])
        UNION ALL SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint ORDER BY 1, 2"""
        if connection.vendor == "postgresql"
        else "SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'index' ORDER BY tbl_name, rowid"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        return list(cursor.fetchall())


OF_THE_PAST_SERIAL = r"-H[0-9]{6}$"


@pytest.fixture(scope="class")
def schema_before(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[list[tuple[str, ...]]]:
    """The shop, and what the database's schema was before it was made."""
    with made_once(django_db_blocker):
        before = _schema()
        make_big_shop(SIZES)
        yield before


@pytest.mark.usefixtures("schema_before")
class TestTheShop:
    """One for all of these: making it takes a while."""

    def test_an_empty_database_becomes_a_shop_with_a_past(self) -> None:
        shop = Shop.objects.get()
        past = Ticket.objects.filter(complaint_words__contains=OF_THE_PAST)
        assert shop.is_demo
        assert [past.count(), known(past.first()).number, known(past.last()).number] == [30, 30, 1]
        assert known(Ticket.objects.exclude(pk__in=past).order_by("number").first()).number == 31
        assert SuspensionUnit.objects.filter(serial__regex=OF_THE_PAST_SERIAL).count() == 15
        assert Customer.objects.filter(notes="Demo data, invented.").count() >= 10
        assert StateMove.objects.filter(ticket__in=past).count() == 4 * 30
        assert TicketEvent.objects.filter(ticket__in=past, kind="moved").count() == 4 * 30
        assert FinalCharges.objects.filter(ticket__in=past).count() == 30
        connection.check_constraints()

    def test_its_rows_pass_what_the_forms_would_ask(self) -> None:
        ticket = Ticket.objects.get(number=7)
        ticket.full_clean()
        for rows in (ticket.moves, ticket.events, ticket.settings_records, ticket.part_lines, ticket.labour_lines):
            for row in rows.all():
                row.full_clean()
        run = ticket.ticket_runs.get().run
        for other in (run, *run.ticks.all(), *run.readings.all(), ticket.unit, ticket.bike, ticket.customer):
            known(other).full_clean()

    def test_it_goes_on_as_a_shop_does(self) -> None:
        shop = Shop.objects.get()
        unit = known(SuspensionUnit.objects.filter(serial__regex=OF_THE_PAST_SERIAL).first())
        before = shop.last_ticket_number
        agreed = AgreedAtBooking("Loud", timezone.localdate() + dt.timedelta(days=3))
        made = book_in(shop=shop, by=None, customer=unit.customer, unit=unit, agreement=agreed)
        assert made.number == before + 1
        assert made.pk > Ticket.objects.get(number=before).pk
        assert [hit.ticket for hit in find(shop, "loud").tickets] == [made]
        assert find(shop, f"h{0:05d}").units

    def test_indexes_and_rules_are_as_they_were(self, schema_before: list[tuple[str, ...]]) -> None:
        assert _schema() == schema_before
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA cache_size")
                assert cursor.fetchone() == (-32000,)

    def test_the_rows_are_the_same_each_time(self) -> None:
        past = Ticket.objects.filter(complaint_words__contains=OF_THE_PAST).order_by("number")
        ticks = Tick.objects.filter(run__in=TicketRun.objects.filter(ticket__in=past).values("run")).order_by("pk")
        text = "|".join([*past.values_list("search_text", flat=True), *(str(tick.client_id) for tick in ticks)])
        assert hashlib.sha256(text.encode()).hexdigest()[:16] == "1da5accb9aab5ce1"
        assert {tick.client_id.version for tick in ticks} == {4}


def test_a_shop_that_has_lately_grown_has_a_long_past_and_a_busy_end() -> None:
    make_big_shop(Sizes(tickets=30, customers=10, units=15, days=1_000, lately=20))
    past = Ticket.objects.filter(complaint_words__contains=OF_THE_PAST)
    booked = sorted(past.values_list("booked_at", flat=True))
    assert dt.timedelta(days=850) < booked[-1] - booked[0] < dt.timedelta(days=1_000)
    assert sum(booked[-1] - at < dt.timedelta(days=14) for at in booked) == 20
    assert list(past.order_by("number").values_list("booked_at", flat=True)) == booked


@pytest.mark.parametrize("sizes", [["--tickets=0"], ["--tickets=9", "--lately=9"], ["--days=14", "--lately=2"]])
def test_sizes_that_make_no_shop_are_refused(sizes: list[str]) -> None:
    with pytest.raises(CommandError, match="at least"):
        call_command("big_shop", *sizes)
    assert not Shop.objects.exists()


def test_a_fill_that_fails_leaves_them_too() -> None:
    def stop(made: int) -> None:
        raise OSError("no more room")

    before = _schema()
    with pytest.raises(OSError, match="no more room"):
        make_big_shop(SIZES, progress=stop)
    assert _schema() == before
    assert not Shop.objects.exists()


def test_a_shop_in_use_is_refused() -> None:
    factories.ShopFactory()
    with pytest.raises(NotEmpty):
        make_big_shop(SIZES)
    assert not Ticket.objects.exists()


def test_the_command_refuses_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    factories.ShopFactory(is_demo=True)
    with pytest.raises(CommandError, match="only made in an empty one"):
        call_command("big_shop")
