"""A ticket booked under the wrong customer, fork or bike: where it can go, what goes along, and what is refused."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import (
    BikeFactory,
    CustomerFactory,
    DocumentFactory,
    FittingFactory,
    RunFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    UserFactory,
)
from tests.known import known
from tests.logbook import changed, logged, said
from tests.squeezed import squeezed
from workshop.kept.models import LastVisit
from workshop.links.links import LinkEnded, make_link, open_link
from workshop.models import (
    Agreement,
    Customer,
    Document,
    FinalCharges,
    Message,
    StoodUnder,
    SuspensionUnit,
    Ticket,
    User,
)
from workshop.privacy.erasing import erase_customer
from workshop.suspension.models import ChangeOfOwner
from workshop.tickets.models import Contact
from workshop.tickets.one_open import OpenElsewhere
from workshop.tickets.refusals import UnlawfulMove
from workshop.till.models import HandOver, Payment, Receipt, ReceiptTicket
from workshop.web.versions import StaleVersion
from workshop.work.moving_over import AnswersOfAnother, Rightly, move_over

pytestmark = pytest.mark.django_db
WHY = "Two of that name"


@pytest.fixture
def ticket() -> Ticket:
    """Booked under Odile, on her bike."""
    made: Ticket = TicketFactory(customer__name="Odile Vossberg", complaint_words="Sits low")
    made.bike = BikeFactory(customer=made.customer)
    made.save(update_fields=["bike"])
    return made


@pytest.fixture
def clerk(client: Client, ticket: Ticket) -> User:
    made: User = UserFactory(shop=ticket.shop)
    client.force_login(made)
    return made


@pytest.fixture
def other(ticket: Ticket) -> Customer:
    """Whose it is, with a fork of that very model."""
    made: Customer = CustomerFactory(shop=ticket.shop, name="Bram Ellery")
    SuspensionUnitFactory(shop=ticket.shop, customer=made, model=ticket.unit.model)
    return made


def fork_of(customer: Customer) -> SuspensionUnit:
    return SuspensionUnit.objects.get(customer=customer)


def move(ticket: Ticket, rightly: Rightly, **given: Any) -> Ticket:
    now = Ticket.objects.select_related("shop", "customer", "unit", "bike").get(pk=ticket.pk)
    asked: dict[str, Any] = {"by": None, "seen_version": now.version, "reason": WHY, **given}
    return move_over(ticket=now, rightly=rightly, **asked)


def answered(ticket: Ticket) -> None:
    paper = DocumentFactory(ticket=ticket, kind=Document.Kind.ESTIMATE)
    Agreement.objects.create(document=paper, ticket=ticket, agreed=True, amount=Decimal(90), data_digest="0" * 64,
                             how="phone", said_by="Somebody", at=timezone.now())  # fmt: skip


def test_it_goes_to_another_customer_and_the_logbook_says_who_when_and_why(
    ticket: Ticket, other: Customer, clerk: User
) -> None:
    DocumentFactory(ticket=ticket, data={"customer": "Odile Vossberg"})
    moved = move(ticket, Rightly(other, fork_of(other)), by=clerk)
    stored = Ticket.objects.get(pk=ticket.pk)
    assert (stored.customer, stored.unit, stored.bike, stored.version) == (other, fork_of(other), None, 2)
    line = known(moved.events.filter(kind="put_right").first())
    assert (said(line), line.by) == (f"Put right: {WHY}", clerk)
    assert changed(line)["Customer"] == ["Odile Vossberg", "Bram Ellery"]
    assert set(changed(line)) == {"Customer", "Fork or shock", "Bike"}
    assert Document.objects.get(ticket=ticket).data == {"customer": "Odile Vossberg"}, "no paper is altered"
    assert StoodUnder.objects.get(ticket=ticket).customer == ticket.customer
    visits = {visit.customer_id: visit.at for visit in LastVisit.objects.all()}
    assert visits[other.pk] == stored.state_since
    assert visits[ticket.customer_id] == ticket.customer.created_at


def test_links_of_the_earlier_customer_end(ticket: Ticket, other: Customer) -> None:
    _, secret = make_link(ticket=ticket, by=None)
    move(ticket, Rightly(other, fork_of(other)))
    with pytest.raises(LinkEnded):
        open_link(secret)
    assert "Link for the customer withdrawn" in logged(ticket)


def test_what_waits_to_be_sent_to_the_earlier_customer_is_called_off(ticket: Ticket, other: Customer) -> None:
    now = timezone.now()
    waiting, sent = (
        Message.objects.create(
            message_id=uuid.uuid4().hex, shop=ticket.shop, customer=ticket.customer, unit=ticket.unit, channel="email",
            subject="Ready", body="Ready", due_on=now.date(), queued_at=now, **more,
        )
        for more in ({}, {"state": "sent", "sent_at": now})
    )  # fmt: skip
    for days, message in enumerate((waiting, sent)):
        since = now - dt.timedelta(days=days)
        Contact.objects.create(
            ticket=ticket, kind="ready_email", words="Ready", message=message, at=now, ready_since=since
        )
    move(ticket, Rightly(other, fork_of(other)))
    assert [Message.objects.get(pk=one.pk).state for one in (waiting, sent)] == ["called_off", "sent"]


def test_to_another_bike_or_fork_of_the_same_customer_its_link_stays(ticket: Ticket) -> None:
    _, secret = make_link(ticket=ticket, by=None)
    second = SuspensionUnitFactory(shop=ticket.shop, customer=ticket.customer, model=ticket.unit.model)
    move(ticket, Rightly(ticket.customer, second, ticket.bike))
    assert open_link(secret).ticket.unit == second
    assert not StoodUnder.objects.exists()


def test_a_fork_and_bike_entered_under_the_wrong_customer_go_along(ticket: Ticket, other: Customer) -> None:
    bike = known(ticket.bike)
    FittingFactory(unit=ticket.unit, bike=bike)
    move(ticket, Rightly(other, ticket.unit, bike))
    unit = SuspensionUnit.objects.get(pk=ticket.unit_id)
    assert (unit.customer, known(unit.fittings.get().bike).customer) == (other, other)
    assert unit.fittings.get().until is None, "it stays on its bike"
    assert not ChangeOfOwner.objects.exists(), "it never was the other's, so what was told of its riding goes on"


def test_a_fork_with_a_past_of_its_own_has_changed_hands(ticket: Ticket, other: Customer) -> None:
    TicketFactory(shop=ticket.shop, customer=ticket.customer, unit=ticket.unit, state="handed_back", number=90_001)
    move(ticket, Rightly(other, ticket.unit))
    assert ChangeOfOwner.objects.get().unit == ticket.unit


def test_a_bike_with_other_things_of_its_owner_stays(ticket: Ticket, other: Customer) -> None:
    TicketFactory(shop=ticket.shop, customer=ticket.customer, bike=ticket.bike, state="handed_back", number=90_001)
    with pytest.raises(ValidationError, match="has been here with other things of Odile Vossberg"):
        move(ticket, Rightly(other, ticket.unit, ticket.bike))
    assert Ticket.objects.get(pk=ticket.pk).customer == ticket.customer


class TestRefused:
    def test_where_the_right_fork_is_in_the_shop_already(self, ticket: Ticket, other: Customer) -> None:
        TicketFactory(shop=ticket.shop, customer=other, unit=fork_of(other), number=90_001)
        with pytest.raises(OpenElsewhere, match="on ticket 90001"):
            move(ticket, Rightly(other, fork_of(other)))

    @pytest.mark.parametrize("state", ["handed_back", "on_the_bench"])
    def test_once_it_was_charged_but_for_its_bike(self, ticket: Ticket, other: Customer, state: str) -> None:
        Ticket.objects.filter(pk=ticket.pk).update(state=state)
        FinalCharges.objects.create(ticket=ticket, currency="EUR", tax_name="VAT", lines=[], tax_rows=[], net=1, tax=0,
                                    gross=1, prices_include_tax=False, at=timezone.now())  # fmt: skip
        with pytest.raises(UnlawfulMove, match="what was charged stays as it was"):
            move(ticket, Rightly(other, fork_of(other)))
        assert move(ticket, Rightly(ticket.customer, ticket.unit)).bike is None

    def test_once_it_is_handed_back_without_charges(self, ticket: Ticket, other: Customer) -> None:
        Ticket.objects.filter(pk=ticket.pk).update(state="handed_back")
        with pytest.raises(UnlawfulMove, match="is handed back"):
            move(ticket, Rightly(other, fork_of(other)))

    def test_onto_a_fork_that_comes_apart_otherwise_under_a_checklist(self, ticket: Ticket) -> None:
        run = RunFactory(facts=ticket.unit.facts())
        TicketRunFactory(ticket=ticket, run=run)
        coil = SuspensionModelFactory(spring_kind="coil", air_side="")
        second = SuspensionUnitFactory(shop=ticket.shop, customer=ticket.customer, model=coil)
        with pytest.raises(UnlawfulMove, match=r"comes apart otherwise than .*: .*spring"):
            move(ticket, Rightly(ticket.customer, second))
        alike = SuspensionUnitFactory(shop=ticket.shop, customer=ticket.customer, model=ticket.unit.model)
        assert move(ticket, Rightly(ticket.customer, alike)).unit == alike

    def test_where_an_estimate_was_answered_until_somebody_says_whose_word_it_was(
        self, ticket: Ticket, other: Customer
    ) -> None:
        answered(ticket)
        with pytest.raises(AnswersOfAnother):
            move(ticket, Rightly(other, fork_of(other)))
        assert move(ticket, Rightly(other, fork_of(other)), answers_are_theirs=True).customer == other

    def test_where_a_deposit_was_paid_until_somebody_says_who_paid_it(self, ticket: Ticket, other: Customer) -> None:
        Payment.objects.create(shop=ticket.shop, ticket=ticket, kind="cash", amount=Decimal(20), currency="EUR",
                               client_id=uuid.uuid4(), at=timezone.now())  # fmt: skip
        with pytest.raises(AnswersOfAnother, match="or something paid"):
            move(ticket, Rightly(other, fork_of(other)))
        assert move(ticket, Rightly(other, fork_of(other)), answers_are_theirs=True).customer == other

    def test_while_a_receipt_names_the_customer(self, ticket: Ticket, other: Customer) -> None:
        hand_over = HandOver.objects.create(
            ticket=ticket, client_id=uuid.uuid4(), currency="EUR", gross=5, at=timezone.now()
        )
        plain: dict[str, Any] = {"currency": "EUR", "tax_name": "VAT", "tax_rows": [], "data": {}, "net": 5, "tax": 0}
        receipt = Receipt.objects.create(
            shop=ticket.shop, customer=ticket.customer, kind="receipt", year=2026, number=1, gross=5, at=timezone.now(),
            **plain,
        )  # fmt: skip
        ReceiptTicket.objects.create(receipt=receipt, ticket=ticket, hand_over=hand_over, kind="receipt", gross=5)
        with pytest.raises(UnlawfulMove, match="by a credit note first"):
            move(ticket, Rightly(other, fork_of(other)))
        credit = Receipt.objects.create(
            shop=ticket.shop, customer=ticket.customer, kind="credit", year=2026, number=1, gross=-5, corrects=receipt,
            reason="Wrong name", at=timezone.now(), **plain,
        )  # fmt: skip
        ReceiptTicket.objects.create(receipt=credit, ticket=ticket, hand_over=hand_over, kind="credit", gross=-5)
        assert move(ticket, Rightly(other, fork_of(other))).customer == other

    def test_to_and_from_the_erased(self, ticket: Ticket, other: Customer) -> None:
        unit = fork_of(other)
        erase_customer(customer=other, by=None)
        with pytest.raises(UnlawfulMove, match="erased"):
            move(ticket, Rightly(Customer.objects.get(pk=other.pk), unit))

    def test_things_of_a_third_another_shop_no_reason_and_nothing_new(self, ticket: Ticket, other: Customer) -> None:
        third = SuspensionUnitFactory(shop=ticket.shop)
        elsewhere = SuspensionUnitFactory()
        for rightly, words in (
            (Rightly(other, third), "belongs to"),
            (Rightly(elsewhere.customer, elsewhere), "of this shop"),
            (Rightly(other, fork_of(other), BikeFactory(customer=third.customer)), "another customer"),
            (Rightly(ticket.customer, ticket.unit, ticket.bike), "stands there already"),
        ):
            with pytest.raises(ValidationError, match=words):
                move(ticket, rightly)
        with pytest.raises(ValidationError, match="Say why"):
            move(ticket, Rightly(other, fork_of(other)), reason="  ")
        assert Ticket.objects.get(pk=ticket.pk).version == 1, "a refusal leaves the ticket as it was"

    def test_what_somebody_changed_meanwhile(self, ticket: Ticket, other: Customer) -> None:
        with pytest.raises(StaleVersion):
            move(ticket, Rightly(other, fork_of(other)), seen_version=7)


def test_erasing_whom_it_stood_under_takes_their_papers_and_name(ticket: Ticket, other: Customer) -> None:
    before = DocumentFactory(ticket=ticket, data={"customer": {"name": "Odile Vossberg"}})
    move(ticket, Rightly(other, fork_of(other)), reason="Odile Vossberg it was not")
    after = DocumentFactory(ticket=ticket, revision=2, data={"customer": {"name": "Bram Ellery"}})
    erase_customer(customer=Customer.objects.get(pk=ticket.customer_id), by=None)
    left = str([*Document.objects.filter(ticket=ticket).values_list("data"), logged(ticket),
                *[changed(event) for event in ticket.events.all()]])  # fmt: skip
    assert "Vossberg" not in left
    assert Document.objects.get(pk=before.pk).data["erased"] is True
    assert Document.objects.get(pk=after.pk).data == {"customer": {"name": "Bram Ellery"}}
    assert Ticket.objects.get(pk=ticket.pk).complaint_words == "Sits low", "the right customer's words stay"


@pytest.mark.django_db(transaction=True)
def test_two_at_once_of_whom_one_comes_too_late(ticket: Ticket, other: Customer) -> None:
    def one(number: int) -> str:
        try:
            move_over(ticket=Ticket.objects.select_related("shop", "customer", "unit", "bike").get(pk=ticket.pk),
                      by=None, seen_version=1, rightly=Rightly(other, fork_of(other)), reason=WHY)  # fmt: skip
        except StaleVersion:
            return "too late"
        return "moved"

    assert sorted(at_once(one, 2)) == ["moved", "too late"]


class TestThePage:
    def test_from_the_ticket_to_the_right_customer(
        self, client: Client, clerk: User, ticket: Ticket, other: Customer
    ) -> None:
        assert (
            reverse("counter:put_right", args=[ticket.number])
            in client.get(reverse("counter:ticket", args=[ticket.number])).content.decode()
        )
        address = reverse("counter:rightly", args=[ticket.number])
        assert address in client.get(reverse("counter:put_right", args=[ticket.number])).content.decode()
        found = client.get(address, {"q": "ellery"}).content.decode()
        assert f"?customer={other.pk}" in found
        page = squeezed(client.get(address, {"customer": other.pk}).content.decode())
        assert "To Bram Ellery" in page
        assert "goes along to Bram Ellery" in page
        assert "Came without a bike" in page
        assert page.count("checked") == 1, "only that it came without a bike; what goes along is chosen, not left so"
        sent = {"customer": other.pk, "seen_version": 1, "unit": fork_of(other).pk, "bike": ""}
        refused = client.post(address, sent)
        assert refused.status_code == 422
        assert "Say why; the history keeps it." in refused.content.decode()
        assert client.post(address, {**sent, "reason": WHY}).status_code == 302
        assert Ticket.objects.get(pk=ticket.pk).customer == other
        late = client.post(address, {**sent, "reason": WHY})
        assert late.status_code == 409, "pressed twice it says so, and moves nothing again"

    def test_a_refusal_keeps_what_was_typed(self, client: Client, clerk: User, ticket: Ticket, other: Customer) -> None:
        answered(ticket)
        TicketFactory(shop=ticket.shop, customer=other, unit=fork_of(other), number=90_001)
        address = reverse("counter:rightly", args=[ticket.number])
        sent = {"customer": other.pk, "seen_version": 1, "unit": fork_of(other).pk, "bike": "", "reason": WHY}
        for extra, words in (({}, "Tick that this was"), ({"answers_are_theirs": "on"}, "on ticket 90001")):
            response = client.post(address, {**sent, **extra})
            assert response.status_code == 422
            assert words in response.content.decode()
            assert WHY in response.content.decode()

    def test_a_mechanic_may_not_and_is_not_shown_it(self, client: Client, ticket: Ticket) -> None:
        client.force_login(UserFactory(shop=ticket.shop, mechanic=True))
        address = reverse("counter:rightly", args=[ticket.number])
        assert client.get(address).status_code == 403
        assert address not in client.get(reverse("counter:put_right", args=[ticket.number])).content.decode()

    def test_it_asks_as_often_however_many_things_there_are(
        self, client: Client, clerk: User, ticket: Ticket, other: Customer
    ) -> None:
        address = reverse("counter:rightly", args=[ticket.number])
        asked: dict[str, Any] = {"customer": other.pk, "q": "ellery"}
        client.get(address, asked)  # whatever a process asks once
        with CaptureQueriesContext(connection) as few:
            client.get(address, asked)
        for _ in range(5):
            SuspensionUnitFactory(shop=ticket.shop, customer=other)
            BikeFactory(customer=other)
            CustomerFactory(shop=ticket.shop, name="Ilse Ellery")
        with CaptureQueriesContext(connection) as many:
            client.get(address, asked)
        assert len(many) == len(few)
