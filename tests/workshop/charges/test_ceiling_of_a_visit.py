"""A price ceiling over all of a visit: what is left of it for one, and that work beyond it is asked about."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.factories import SuspensionUnitFactory, TicketFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from tests.known import known
from tests.logbook import changed
from tests.squeezed import squeezed
from workshop.charges.agreeing import left_of_all, over_agreed, record_answer
from workshop.charges.standing import charges_standing
from workshop.documents.issuing import issue
from workshop.documents.slip import gather_slip
from workshop.models import LabourLine, Ticket, User, Visit
from workshop.tickets.visits import join_visit
from workshop.till.taking import take_payment
from workshop.work.moves import AgreementMissing, move

pytestmark = pytest.mark.django_db


@pytest.fixture
def fork() -> Ticket:
    """On the bench at 90.00, of a visit with 150.00 for all of it."""
    ticket = ready_ticket("90.00", state="on_the_bench", number=71)
    visit = Visit.objects.create(shop=ticket.shop, price_ceiling=Decimal(150))
    Ticket.objects.filter(pk=ticket.pk).update(visit=visit)
    return fresh(ticket)


@pytest.fixture
def shock(fork: Ticket) -> Ticket:
    return one_more(fork, "60.00", number=72)


@pytest.fixture
def clerk(client: Client, fork: Ticket) -> User:
    made: User = UserFactory(shop=fork.shop)
    client.force_login(made)
    return made


def fresh(ticket: Ticket) -> Ticket:
    return Ticket.objects.select_related("shop", "visit", "customer", "unit", "bike").get(pk=ticket.pk)


def one_more(fork: Ticket, price: str, number: int) -> Ticket:
    unit = SuspensionUnitFactory(shop=fork.shop, customer=fork.customer)
    of_it = {"shop": fork.shop, "customer": fork.customer, "visit": fork.visit, "unit": unit}
    return fresh(ready_ticket(price, state="on_the_bench", number=number, **of_it))


def charge(ticket: Ticket, price: str) -> None:
    LabourLine.objects.create(ticket=ticket, words="Bushings", price=Decimal(price), at=timezone.now())


def make_ready(ticket: Ticket) -> None:
    now = fresh(ticket)
    move(ticket=now, to_state="ready", by=None, seen_version=now.version)


def say_yes(ticket: Ticket, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    by = UserFactory(shop=ticket.shop)
    estimate = issue(ticket=fresh(ticket), kind="estimate", by=by, ticket_address="")
    record_answer(
        document=estimate, agreed=True, how="phone", said_by="Odile", by=None, seen_digest=estimate.data_digest
    )


class TestTheRule:
    def test_to_the_cent_it_is_inside(self, fork: Ticket, shock: Ticket) -> None:
        assert (left_of_all(fork), left_of_all(shock)) == (Decimal(90), Decimal(60))
        make_ready(fork)
        make_ready(shock)
        for ticket in (fork, shock):
            hand_it_over(ticket, part("cash", "90" if ticket == fork else "60"))

    def test_a_cent_beyond_is_asked_about_and_a_yes_lets_it_go(
        self, fork: Ticket, shock: Ticket, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        make_ready(fork)
        charge(shock, "0.01")
        with pytest.raises(AgreementMissing, match=r"All of the visit comes to 150\.01 EUR.* agreed to 150\.00 EUR"):
            make_ready(shock)
        say_yes(shock, monkeypatch)
        make_ready(shock)
        hand_it_over(fork, part("cash", "90"))
        hand_it_over(shock, part("cash", "60.01"))

    def test_a_yes_of_its_own_does_not_hold_up_the_other(
        self, fork: Ticket, shock: Ticket, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        charge(shock, "40")
        assert known(over_agreed(fork)).of_all, "as it is foreseen, all of it is beyond"
        say_yes(shock, monkeypatch)
        make_ready(shock)
        hand_it_over(shock, part("cash", "100"))
        make_ready(fork)
        hand_it_over(fork, part("cash", "90"))

    def test_what_is_ready_is_not_held_by_what_is_still_worked_on(self, fork: Ticket, shock: Ticket) -> None:
        make_ready(fork)
        charge(shock, "40")
        hand_it_over(fork, part("cash", "90"))
        assert left_of_all(fresh(shock)) == 60, "what was charged counts"
        with pytest.raises(AgreementMissing):
            make_ready(shock)

    def test_its_own_ceiling_holds_beside_it(self, fork: Ticket, shock: Ticket) -> None:
        Ticket.objects.filter(pk=fork.pk).update(price_ceiling=Decimal(80))
        with pytest.raises(AgreementMissing, match=r"The charges come to 90\.00 EUR.* agreed to 80\.00 EUR"):
            make_ready(fork)

    def test_without_one_nothing_is_held(self, fork: Ticket, shock: Ticket) -> None:
        Visit.objects.update(price_ceiling=None)
        charge(fork, "900")
        assert (left_of_all(fresh(fork)), over_agreed(fresh(fork))) == (None, None)
        make_ready(fork)

    def test_no_deposit_beyond_what_is_left(self, fork: Ticket, shock: Ticket) -> None:
        shock.labour_lines.update(price=Decimal("20.00"))
        with pytest.raises(ValidationError, match=r"no more than 60\.00 EUR"):
            take_payment(ticket=shock, part=part("card", "60.01"), client_id=uuid.uuid4(), by=None)

    def test_the_database_refuses_less_than_nothing(self, fork: Ticket) -> None:
        with pytest.raises(IntegrityError), transaction.atomic():
            Visit.objects.update(price_ceiling=Decimal("-0.01"))

    @pytest.mark.parametrize(("alone", "stays"), [("40.00", "40.00"), ("400.00", "150.00"), (None, "150.00")])
    def test_of_two_that_become_one_visit_the_lower_stays(self, fork: Ticket, alone: str | None, stays: str) -> None:
        other = TicketFactory(shop=fork.shop, customer=fork.customer, unit__customer=fork.customer, number=75)
        ceiling = None if alone is None else Decimal(alone)
        other.visit = Visit.objects.create(shop=fork.shop, price_ceiling=ceiling)
        other.save()
        join_visit(ticket=fresh(other), beside=fork, by=None, seen_version=1, reason="One box")
        assert known(fresh(fork).visit).price_ceiling == Decimal(stays)


class TestWhereItIsShown:
    def test_written_down_on_the_visit_with_a_line_in_each_logbook(
        self, client: Client, clerk: User, fork: Ticket, shock: Ticket
    ) -> None:
        address = reverse("counter:visit", args=[fork.number])
        sent = {"seen_version": 1, "came_by": "counter", "goes_by": "counter"}
        wrong = client.post(address, {**sent, "price_ceiling": "-1", "shelf": "B4"})
        assert (wrong.status_code, 'value="B4"' in wrong.content.decode()) == (422, True)
        assert client.post(address, {**sent, "price_ceiling": "200"}).status_code == 302
        assert known(fresh(shock).visit).price_ceiling == 200
        for ticket in (fork, shock):
            assert list(changed(known(ticket.events.first()))) == ["Price limit for the whole visit"]

    def test_ticket_charges_bench_hand_back_and_slip_say_it(
        self, client: Client, clerk: User, fork: Ticket, shock: Ticket
    ) -> None:
        make_ready(fork)
        for name in ("counter:ticket", "charges:ticket", "counter:hand_back", "bench:ticket"):
            page = squeezed(client.get(reverse(name, args=[fork.number])).content.decode())
            assert "150.00 EUR for the whole visit" in page, name
        assert gather_slip(fresh(fork), "")["limit_together"] == "150.00 EUR"

    def test_what_is_beyond_it_is_said_where_the_work_is_decided(
        self, client: Client, clerk: User, fork: Ticket, shock: Ticket
    ) -> None:
        charge(shock, "40")
        assert known(charges_standing(shock).over).of_all
        for name in ("charges:ticket", "bench:parts_and_charges"):
            page = client.get(reverse(name, args=[shock.number])).content.decode()
            assert "bove what was agreed" in page, name
        assert "150.00 EUR for the whole visit, of which 60.00 EUR is left for this" in page

    def test_it_is_asked_as_often_however_many_came(
        self, client: Client, clerk: User, fork: Ticket, shock: Ticket
    ) -> None:
        def count() -> int:
            with CaptureQueriesContext(connection) as asked:
                assert client.get(reverse("charges:ticket", args=[fork.number])).status_code == 200
            return len(asked)

        count()  # whatever a process asks once
        few = count()
        for number in range(80, 84):
            one_more(fork, "1.00", number)
        assert count() == few
