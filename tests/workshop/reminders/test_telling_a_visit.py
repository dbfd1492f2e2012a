"""One message for a visit: all that is ready with its sum, what is not ready in words, written down on each ticket."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.core import mail
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests import factories as make
from tests.at_once import at_once
from tests.known import known
from tests.squeezed import squeezed
from tests.workshop.reminders.test_reminders_sending import Post
from workshop.models import Contact, FreeFinding, LabourLine, Message, Shop, Ticket, User, Visit
from workshop.reminders.delivery import Refused
from workshop.reminders.sending import send_waiting
from workshop.reminders.telling_ready import ToldAlready, queue_ready_email, ready_words, tell_ready_by_text

pytestmark = pytest.mark.django_db
FORK, SHOCK, WHEEL = "Harrow Fell 140", "Harrow Sprite 55", "Harrow Lark 29"


@pytest.fixture
def shop() -> Shop:
    return make.ShopFactory.create(name="Mill Yard", email="desk@mill-yard.example", currency="EUR")


@pytest.fixture
def visit(shop: Shop) -> list[Ticket]:
    return a_visit(shop, FORK, SHOCK)


def a_visit(shop: Shop, *units: str, state: str = "ready") -> list[Ticket]:
    owner = make.CustomerFactory.create(shop=shop, name="Ines Tarn", email="ines@example.org", phone="0555 301 477")
    of = Visit.objects.create(shop=shop)
    return [a_ticket(shop, owner, of, unit, state=state) for unit in units]


def a_ticket(shop: Shop, owner: Any, visit: Visit | None, unit: str, **fields: Any) -> Ticket:
    thing = make.SuspensionUnitFactory.create(shop=shop, customer=owner, model=None, described_as=unit)
    of = {"shop": shop, "customer": owner, "unit": thing, "visit": visit}
    made = make.TicketFactory.create(**of, **{"state": "ready", "state_since": timezone.now(), **fields})
    LabourLine.objects.create(ticket=made, words="Service", price=Decimal("57.50"), at=timezone.now())
    return made


def back_on_the_bench(ticket: Ticket) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="on_the_bench", state_since=timezone.now())


def ready_again(ticket: Ticket) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="ready", state_since=timezone.now())


def told_on(ticket: Ticket) -> list[tuple[str, int | None]]:
    return [(one.kind, one.message_id) for one in ticket.contacts.all()]


def test_two_forks_of_a_visit_are_told_in_one_message_with_the_sum_of_both(visit: list[Ticket]) -> None:
    told = queue_ready_email(ticket=visit[0], by=None)
    send_waiting(shop=visit[0].shop)
    (email,) = mail.outbox
    assert f"{FORK} and {SHOCK} are ready" in email.body
    assert email.subject == f"Your {FORK} and {SHOCK} are ready"
    assert "115.00 EUR" in email.body
    assert "57.50" not in email.body
    for ticket in visit:
        assert told_on(ticket) == [("ready_email", told.message_id)]
        assert ticket.events.filter(kind="told_ready").count() == 1
        with pytest.raises(ToldAlready):
            queue_ready_email(ticket=ticket, by=None)


def test_one_alone_reads_as_before(shop: Shop) -> None:
    (alone,) = a_visit(shop, FORK)
    words = ready_words(alone)
    assert f"Your {FORK} is ready: 57.50 EUR." in words.body
    assert "Not ready" not in words.body


def test_told_earlier_it_says_what_is_not_ready_and_the_rest_is_told_with_all(visit: list[Ticket]) -> None:
    fork, shock = visit
    back_on_the_bench(shock)
    queue_ready_email(ticket=fork, by=None)
    send_waiting(shop=fork.shop)
    assert f"Not ready yet: {SHOCK}." in mail.outbox[0].body
    assert "57.50 EUR" in mail.outbox[0].body
    assert told_on(shock) == []
    ready_again(shock)
    told = queue_ready_email(ticket=shock, by=None)
    send_waiting(shop=fork.shop)
    assert "115.00 EUR" in mail.outbox[1].body
    assert told_on(fork)[-1] == told_on(shock)[-1] == ("ready_email", told.message_id)
    for ticket in visit:
        with pytest.raises(ToldAlready):
            queue_ready_email(ticket=ticket, by=None)
    assert len(mail.outbox) == 2


def test_pressed_on_the_one_that_was_told_it_tells_what_has_become_ready_since(visit: list[Ticket]) -> None:
    fork, shock = visit
    back_on_the_bench(shock)
    queue_ready_email(ticket=fork, by=None)
    send_waiting(shop=fork.shop)
    ready_again(shock)
    queue_ready_email(ticket=fork, by=None)
    assert len(told_on(shock)) == 1
    assert len(told_on(fork)) == 2


def test_one_taken_back_before_it_leaves_calls_the_whole_message_off(visit: list[Ticket]) -> None:
    fork, shock = visit
    queue_ready_email(ticket=fork, by=None)
    back_on_the_bench(shock)
    assert send_waiting(shop=fork.shop).called_off == 1
    assert SHOCK in Message.objects.get().problem
    again = queue_ready_email(ticket=fork, by=None)  # what is pressed now says what holds now
    assert f"Not ready yet: {SHOCK}." in known(again.message).body
    assert send_waiting(shop=fork.shop).sent == 1
    assert len(told_on(shock)) == 1


def test_what_came_back_is_sent_again_for_all_of_it(visit: list[Ticket]) -> None:
    fork, shock = visit
    told = queue_ready_email(ticket=fork, by=None)
    send_waiting(shop=fork.shop, delivery=Post(stumbles=[Refused("550 No such mailbox")]))
    assert all(one.went_wrong for one in Contact.objects.select_related("message"))
    assert queue_ready_email(ticket=shock, by=None).message_id == told.message_id
    assert send_waiting(shop=fork.shop).sent == 1
    assert Message.objects.count() == 1
    assert [ticket.events.filter(kind="told_ready_again").count() for ticket in visit] == [1, 1]


def test_a_line_without_a_price_leaves_the_sum_out(visit: list[Ticket]) -> None:
    make.PartLineFactory.create(ticket=visit[1], status="used", unit_price=None)
    assert ready_words(visit[0]).price == ""


def test_the_one_that_must_not_be_ridden_is_named(visit: list[Ticket]) -> None:
    FreeFinding.objects.create(
        ticket=visit[1], kind="danger", place="Can", text="Cracked", at=timezone.now(),
        by=make.UserFactory.create(shop=visit[1].shop), client_id="3f1c7a52-58a8-4c86-9e0b-4a2f0c8f6f11",
    )  # fmt: skip
    words = ready_words(visit[0])
    for said in (words.body, words.text):
        assert f"Do not ride the {SHOCK} as it is" in said
        assert f"Do not ride the {FORK}" not in said


def test_a_text_message_is_written_down_on_each(visit: list[Ticket]) -> None:
    tell_ready_by_text(ticket=visit[0], words="All of it is ready", by=None)
    assert [told_on(ticket) for ticket in visit] == [[("ready_text", None)]] * 2


def test_who_is_another_customers_is_not_told_of(visit: list[Ticket], shop: Shop) -> None:
    other = make.CustomerFactory.create(shop=shop, email="other@example.org")
    Ticket.objects.filter(pk=visit[1].pk).update(customer=other)
    queue_ready_email(ticket=visit[0], by=None)
    assert told_on(visit[1]) == []


def test_the_database_takes_a_message_once_on_a_ticket(visit: list[Ticket]) -> None:
    told = queue_ready_email(ticket=visit[0], by=None)
    told.pk, told.again = None, True
    with pytest.raises(IntegrityError), transaction.atomic():
        told.save()


@pytest.mark.django_db(transaction=True)
def test_pressed_on_each_at_the_same_moment_one_message_leaves(visit: list[Ticket]) -> None:
    def press(person: int) -> bool:
        try:
            queue_ready_email(ticket=Ticket.objects.get(pk=visit[person % 2].pk), by=None)
        except ToldAlready:
            return False
        return True

    assert sum(at_once(press, 4)) == 1
    assert Message.objects.count() == 1
    assert Contact.objects.count() == 2


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(make.UserFactory.create(shop=shop), backend="workshop.staff.backend.StaffBackend")
    return client


def test_the_screens_say_what_the_message_will_be_about(counter: Client, visit: list[Ticket]) -> None:
    fork, shock = visit
    for address in (reverse("counter:ticket", args=[fork.number]), reverse("counter:today")):
        assert f"One message with ticket {shock.number}" in squeezed(counter.get(address).text)
    back_on_the_bench(shock)
    for address in (reverse("counter:ticket", args=[fork.number]), reverse("counter:today")):
        assert f"Ticket {shock.number} of this visit is not ready yet" in squeezed(counter.get(address).text)
    page = squeezed(counter.get(reverse("counter:tell_text", args=[fork.number])).text)
    assert f"Not ready yet: {SHOCK}." in page
    ready_again(shock)
    said = counter.post(reverse("counter:tell_email", args=[fork.number]), follow=True)
    assert f"about tickets {fork.number} and {shock.number} has left" in squeezed(said.text)
    assert "told by email" in squeezed(counter.get(reverse("counter:ticket", args=[shock.number])).text)


def test_more_visits_ask_no_more_queries(counter: Client, shop: Shop, visit: list[Ticket]) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            counter.get(reverse("counter:today"))
        return len(asked)

    few = queries()
    for number in range(4):
        a_visit(shop, f"Fork {number} of many", f"Shock {number} of many")
    assert queries() == few
    assert User.objects.count() == 1
