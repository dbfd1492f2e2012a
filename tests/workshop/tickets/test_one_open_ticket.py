"""One open ticket for a unit: the database says one, and every screen says which one is open."""

from __future__ import annotations

import datetime as dt
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import SuspensionUnitFactory, TicketFactory, UserFactory
from tests.squeezed import squeezed
from workshop.models import Ticket, User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.one_open import OpenElsewhere
from workshop.work.moves import move

pytestmark = pytest.mark.django_db
MIGRATION = import_module("workshop.migrations.0021_one_open_ticket_of_a_unit")


@pytest.fixture
def unit() -> SuspensionUnit:
    made: SuspensionUnit = SuspensionUnitFactory()
    return made


@pytest.fixture
def clerk(client: Client, unit: SuspensionUnit) -> User:
    made: User = UserFactory(shop=unit.shop)
    client.force_login(made)
    return made


def ticket_of(unit: SuspensionUnit, **fields: Any) -> Ticket:
    made: Ticket = TicketFactory(shop=unit.shop, customer=unit.customer, unit=unit, **fields)
    return made


def book(unit: SuspensionUnit, by: User | None = None) -> Ticket:
    return book_in(
        shop=unit.shop, by=by, customer=unit.customer, unit=unit,
        agreement=AgreedAtBooking("Sits low.", timezone.localdate() + dt.timedelta(days=3)),
    )  # fmt: skip


class TestTheDatabase:
    @pytest.mark.parametrize("state", Ticket.OPEN_STATES)
    def test_it_refuses_a_second_open_ticket(self, unit: SuspensionUnit, state: str) -> None:
        ticket_of(unit, state="on_the_bench")
        with pytest.raises(IntegrityError), transaction.atomic():
            ticket_of(unit, state=state, waiting_for="parts" if state == "waiting" else "")

    def test_it_refuses_to_open_one_again_beside_an_open_one(self, unit: SuspensionUnit) -> None:
        ticket_of(unit)
        off = ticket_of(unit, state="called_off")
        with pytest.raises(IntegrityError), transaction.atomic():
            Ticket.objects.filter(pk=off.pk).update(state="booked_in")

    def test_any_number_may_be_closed(self, unit: SuspensionUnit) -> None:
        for state in ("handed_back", "handed_back", "called_off", "called_off", "booked_in"):
            ticket_of(unit, state=state)
        assert Ticket.objects.filter(unit=unit).count() == 5


class TestReopening:
    def test_the_rule_says_which_one_is_open(self, unit: SuspensionUnit) -> None:
        off, inside = ticket_of(unit, state="called_off"), ticket_of(unit, state="on_the_bench")
        with pytest.raises(OpenElsewhere, match=f"on ticket {inside.number}") as refused:
            move(ticket=off, to_state="booked_in", by=None, seen_version=1)
        assert refused.value.inside == inside
        off.refresh_from_db()
        assert (off.state, off.version) == ("called_off", 1)

    def test_the_screen_says_which_one_is_open(self, client: Client, clerk: User, unit: SuspensionUnit) -> None:
        off, inside = ticket_of(unit, state="called_off"), ticket_of(unit)
        page = client.post(
            reverse("counter:move", args=[off.number]),
            {"to": "booked_in", "reason": "Changed my mind", "seen_version": 1},
        )
        assert page.status_code == 422
        text = page.content.decode()
        assert f"is in the shop already, on ticket {inside.number}" in text
        assert reverse("counter:ticket", args=[inside.number]) in text
        assert "Changed my mind" in text  # what was typed

    def test_twice_backwards_and_then_rightly(self, client: Client, clerk: User, unit: SuspensionUnit) -> None:
        off, inside = ticket_of(unit, state="called_off"), ticket_of(unit)
        address, again = reverse("counter:move", args=[off.number]), {"to": "booked_in", "seen_version": 1}
        assert [client.post(address, again).status_code for _ in range(2)] == [422, 422]
        call_off = {"to": "called_off", "reason": "Booked twice", "seen_version": 1}
        assert client.post(reverse("counter:move", args=[inside.number]), call_off).status_code == 302
        assert client.post(address, again).status_code == 302
        assert list(Ticket.objects.open().filter(unit=unit)) == [off]

    def test_what_was_handed_back_is_no_hindrance(self, unit: SuspensionUnit) -> None:
        ticket_of(unit, state="handed_back")
        off = ticket_of(unit, state="called_off")
        assert move(ticket=off, to_state="booked_in", by=None, seen_version=1).to_state == "booked_in"


class TestDoublesFromBefore:
    """What a shop had open twice when the constraint came: nothing of it is lost or moved, and both can be closed."""

    @pytest.fixture
    def doubles(self, unit: SuspensionUnit) -> tuple[Ticket, Ticket]:
        return ticket_of(unit, state="on_the_bench"), ticket_of(unit, doubled_at=timezone.now())

    def test_each_page_names_the_other(
        self, client: Client, clerk: User, unit: SuspensionUnit, doubles: tuple[Ticket, Ticket]
    ) -> None:
        for one, other in (doubles, doubles[::-1]):
            page = client.get(reverse("counter:ticket", args=[one.number])).content.decode()
            address = reverse("counter:ticket", args=[other.number])
            assert f'also open on<a href="{address}">ticket {other.number}' in squeezed(page)

    @pytest.mark.parametrize("first", [0, 1])
    def test_whichever_is_closed_first_one_is_left_and_it_is_the_one(
        self, unit: SuspensionUnit, doubles: tuple[Ticket, Ticket], first: int
    ) -> None:
        move(ticket=doubles[first], to_state="called_off", by=None, seen_version=1, reason="Booked twice")
        (left,) = Ticket.objects.open().filter(unit=unit)
        assert left == doubles[1 - first]
        assert left.doubled_at is None  # from here on the database counts it
        with pytest.raises(IntegrityError), transaction.atomic():
            ticket_of(unit)

    def test_one_that_is_closed_stays_closed_beside_the_other(
        self, unit: SuspensionUnit, doubles: tuple[Ticket, Ticket]
    ) -> None:
        move(ticket=doubles[1], to_state="called_off", by=None, seen_version=1, reason="Booked twice")
        doubles[1].refresh_from_db()
        with pytest.raises(OpenElsewhere):
            move(ticket=doubles[1], to_state="booked_in", by=None, seen_version=doubles[1].version)

    def test_both_go_on_through_the_shop(self, doubles: tuple[Ticket, Ticket]) -> None:
        second = doubles[1]
        for to_state in ("on_the_bench", "booked_in", "on_the_bench"):
            move(ticket=second, to_state=to_state, by=None, seen_version=second.version)
        assert second.state == "on_the_bench"


@pytest.mark.django_db(transaction=True)
class TestTwoClerksAtOnce:
    def test_who_open_two_called_off_tickets_of_one_unit(self, unit: SuspensionUnit) -> None:
        off = [ticket_of(unit, state="called_off") for _ in range(6)]

        def open_again(number: int) -> str:
            try:
                move(ticket=Ticket.objects.get(pk=off[number].pk), to_state="booked_in", by=None, seen_version=1)
            except OpenElsewhere:
                return "told"
            return "opened"

        assert sorted(at_once(open_again)) == ["opened"] + ["told"] * 5
        assert Ticket.objects.open().filter(unit=unit).count() == 1

    def test_of_whom_one_books_in_and_the_other_opens_again(self, unit: SuspensionUnit) -> None:
        off = ticket_of(unit, state="called_off")

        def in_the_shop(number: int) -> str:
            try:
                if number % 2:
                    book(SuspensionUnit.objects.select_related("shop", "customer").get(pk=unit.pk))
                else:
                    move(ticket=Ticket.objects.get(pk=off.pk), to_state="booked_in", by=None, seen_version=1)
            except (OpenElsewhere, ValidationError):
                return "told"
            return "inside"

        assert sorted(at_once(in_the_shop, people=2)) == ["inside", "told"]
        assert Ticket.objects.open().filter(unit=unit).count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_running_shop_with_doubles_migrates_and_loses_nothing(unit: SuspensionUnit) -> None:
    """The constraint taken away, the tables filled as a shop may have them, and the migration's own steps again."""
    (one_open,) = (each for each in Ticket._meta.constraints if each.name == "one_open_ticket_of_a_unit")
    other_unit = SuspensionUnitFactory(shop=unit.shop)
    with connection.schema_editor() as editor:
        editor.remove_constraint(Ticket, one_open)
    try:
        closed = ticket_of(unit, state="handed_back")
        tickets = [ticket_of(unit, state=state) for state in ("booked_in", "on_the_bench", "ready")]
        alone = ticket_of(other_unit)
        before = list(Ticket.objects.order_by("pk").values_list("pk", "state", "version", "state_since"))
        with connection.schema_editor() as editor:
            MIGRATION.mark_doubles(apps, editor)
    finally:
        with connection.schema_editor() as editor:
            editor.add_constraint(Ticket, one_open)
    assert list(Ticket.objects.order_by("pk").values_list("pk", "state", "version", "state_since")) == before
    left_out = set(Ticket.objects.exclude(doubled_at=None).values_list("pk", flat=True))
    assert left_out == {ticket.pk for ticket in tickets[1:]}
    assert {closed.pk, alone.pk} & left_out == set()
    with pytest.raises(IntegrityError), transaction.atomic():
        ticket_of(unit)
