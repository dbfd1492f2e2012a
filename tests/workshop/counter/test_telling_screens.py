"""Notes, calls and messages from the ticket's page and from the counter's first page."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests import factories as make
from tests.known import known
from tests.squeezed import squeezed
from workshop.models import Contact, LabourLine, Message, OpeningHours, ReadyText, Shop, Ticket, User
from workshop.reminders.telling_ready import queue_ready_email
from workshop.tickets.contacts import log_call

pytestmark = pytest.mark.django_db
BACKEND = "workshop.staff.backend.StaffBackend"
REFUSED = 422


@pytest.fixture
def shop() -> Shop:
    return make.ShopFactory.create(email="desk@mill-yard.example")


@pytest.fixture
def clerk(shop: Shop) -> User:
    return make.UserFactory.create(shop=shop)


@pytest.fixture
def counter(client: Client, clerk: User) -> Client:
    client.force_login(clerk, backend=BACKEND)
    return client


@pytest.fixture
def owner(client: Client, shop: Shop) -> Client:
    client.force_login(make.UserFactory.create(shop=shop, role=User.Role.OWNER), backend=BACKEND)
    return client


def a_ticket(shop: Shop, days: int = 0, **fields: Any) -> Ticket:
    owner = make.CustomerFactory.create(shop=shop, name="Ines Tarn", email="ines@example.org", phone="0555 301 477")
    since = timezone.now() - dt.timedelta(days=days, minutes=1)
    return make.TicketFactory.create(shop=shop, customer=owner, **{"state": "ready", "state_since": since, **fields})


def send(counter: Client, name: str, ticket: Ticket, **data: str) -> Any:
    return counter.post(reverse(f"counter:{name}", args=[ticket.number]), data)


def page_of(counter: Client, ticket: Ticket) -> str:
    return squeezed(counter.get(reverse("counter:ticket", args=[ticket.number])).text)


def today(counter: Client) -> str:
    return squeezed(counter.get(reverse("counter:today")).text)


def test_one_press_writes_a_call_down(counter: Client, shop: Shop, clerk: User) -> None:
    ticket = a_ticket(shop)
    response = send(counter, "add_contact", ticket, what="no_answer")
    assert response.url.endswith("#told")
    made = Contact.objects.get()
    assert (made.kind, made.outcome, made.by) == ("call", "no_answer", clerk)
    assert "rang, no answer" in page_of(counter, ticket)
    assert Ticket.objects.get(pk=ticket.pk).state == "ready"


def test_from_the_list_it_leads_back_to_the_list(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop)
    assert send(counter, "add_contact", ticket, what="message_left", **{"from": "today"}).url == reverse(
        "counter:today"
    )
    assert "message left" in today(counter)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"what": "note"}, "Enter the note."),
        ({"what": "reached", "rang_at": "25:99"}, "Enter a time as 14:10."),
        ({"what": "sang"}, "Press a button."),
        ({}, "Say how the call ended"),
    ],
)
def test_what_is_refused_loses_nothing_typed(counter: Client, shop: Shop, data: dict[str, str], said: str) -> None:
    response = send(counter, "add_contact", a_ticket(shop), words="Typed words" * bool(data.get("rang_at")), **data)
    assert response.status_code == REFUSED
    assert said in squeezed(response.text)
    assert not data.get("rang_at") or "Typed words" in response.text
    assert not Contact.objects.exists()


def test_a_closed_ticket_takes_a_note_still(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop, state="handed_back")
    send(counter, "add_contact", ticket, what="note", words="Rang: all is well")
    assert "Rang: all is well" in page_of(counter, ticket)


def test_one_press_tells_by_email_and_the_second_sends_nothing(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop)
    LabourLine.objects.create(ticket=ticket, words="Lowers service", price=Decimal(115), at=timezone.now())
    for _ in range(2):
        send(counter, "tell_email", ticket)
    assert len(mail.outbox) == 1
    assert "115.00 EUR" in mail.outbox[0].body
    assert "told by email" in page_of(counter, ticket)
    assert "by email" in today(counter)


def test_failed_mail_shows_on_the_ticket_and_in_the_list(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop)
    told = queue_ready_email(ticket=ticket, by=None)
    Message.objects.filter(contacts=told).update(state="failed", problem="550 No such mailbox")
    assert "550 No such mailbox" in page_of(counter, ticket)
    assert "Email did not arrive" in today(counter)


def test_no_way_to_send_is_said_and_keeps_nothing(counter: Client, shop: Shop, settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    ticket = a_ticket(shop)
    response = counter.post(reverse("counter:tell_email", args=[ticket.number]), follow=True)
    assert "cannot send email yet" in squeezed(response.text)
    assert not Contact.objects.exists()


def test_the_text_message_is_shown_to_copy_and_written_down_once_sent(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop)
    address = reverse("counter:tell_text", args=[ticket.number])
    shown = counter.get(address)
    words = shown.context["form"].initial["words"]
    assert ticket.unit.title in words
    assert words in squeezed(shown.text)
    assert not Contact.objects.exists()
    assert counter.post(address, {"words": ""}).status_code == REFUSED
    counter.post(address, {"words": words})
    assert Contact.objects.get().words == words
    assert "told by text message" in page_of(counter, ticket)


def test_what_is_not_ready_has_no_text_message(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop, state="on_the_bench")
    address = reverse("counter:tell_text", args=[ticket.number])
    for response in (counter.get(address), counter.post(address, {"words": "It is ready"})):
        assert response.headers["Location"] == reverse("counter:ticket", args=[ticket.number])
    assert not Contact.objects.exists()


def test_ready_and_taken_back_is_said(counter: Client, shop: Shop) -> None:
    ticket = a_ticket(shop)
    send(counter, "tell_email", ticket)
    Ticket.objects.filter(pk=ticket.pk).update(state="on_the_bench", state_since=timezone.now())
    assert "Told that it is ready, and taken back since." in page_of(counter, ticket)
    assert Message.objects.get().state == "sent"  # nothing is voided
    Ticket.objects.filter(pk=ticket.pk).update(state="ready", state_since=timezone.now())
    assert "before it was taken back" in today(counter)


def test_who_was_not_reached_for_some_days_is_a_list(counter: Client, shop: Shop) -> None:
    waits_long, waits_short = a_ticket(shop, days=4), a_ticket(shop, days=1)
    day = counter.get(reverse("counter:today")).context["day"]
    assert ([ticket.pk for ticket in day.unreached], day.unreached_days) == ([waits_long.pk], 3)
    log_call(ticket=waits_long, outcome="no_answer", by=None)
    assert counter.get(reverse("counter:today")).context["day"].unreached_count == 1
    log_call(ticket=waits_long, outcome="reached", by=None)
    assert counter.get(reverse("counter:today")).context["day"].unreached_count == 0
    ReadyText.objects.create(shop=shop, subject="s", body="b", text="t", unreached_days=1)
    assert [one.pk for one in counter.get(reverse("counter:today")).context["day"].unreached] == [waits_short.pk]


def test_what_waits_for_an_answer_counts_and_the_bench_does_not(counter: Client, shop: Shop) -> None:
    asked = a_ticket(shop, days=9, state="waiting", waiting_for="customer")
    a_ticket(shop, days=9, state="on_the_bench")
    a_ticket(shop, days=9, state="handed_back")
    assert [one.pk for one in counter.get(reverse("counter:today")).context["day"].unreached] == [asked.pk]


def test_more_calls_ask_no_more_queries(counter: Client, shop: Shop) -> None:
    def queries(address: str) -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            counter.get(address)
        return len(asked)

    first = a_ticket(shop, days=9)
    log_call(ticket=first, outcome="no_answer", by=None)
    pages = [reverse("counter:today"), reverse("counter:ticket", args=[first.number])]
    few = [queries(address) for address in pages]
    for ticket in [first, *(a_ticket(shop, days=9) for _ in range(6))]:
        queue_ready_email(ticket=ticket, by=None)
        for _ in range(5):
            log_call(ticket=ticket, outcome="message_left", by=known(User.objects.first()))
    assert [queries(address) for address in pages] == few


HOURS = {f"day_{weekday}": "" for weekday in range(7)}
WORDING = {"subject": "Ready", "body": "Hello {customer}", "text": "{unit} {price}", "unreached_days": "4"}


def test_the_owner_keeps_wording_days_and_hours(owner: Client, shop: Shop) -> None:
    address = reverse("office:ready_text")
    sent = {**WORDING, **HOURS, "day_0": "9-12:30, 14:00-18:00", "seen_version": "0"}
    assert owner.post(address, sent).status_code == 302
    assert [str(row) for row in OpeningHours.objects.filter(shop=shop)] == [
        "Monday, 09:00 to 12:30", "Monday, 14:00 to 18:00",
    ]  # fmt: skip
    shown = owner.get(address)
    assert 'value="9:00-12:30, 14:00-18:00"' in shown.text
    assert owner.post(address, {**sent, "seen_version": "0"}).status_code == 409
    assert ReadyText.objects.get().unreached_days == 4


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("body", "Hello {name}", "There is no field {name}."),
        ("text", "{", "There is a lone brace."),
        ("subject", "two\nlines", "A subject is one line."),
        ("day_3", "9-25", "There is no 25:00 on a clock."),
        ("unreached_days", "0", "Enter a number of days from 1 to 60."),
    ],
)
def test_what_cannot_be_kept_is_said_beside_its_field(owner: Client, field: str, typed: str, said: str) -> None:
    response = owner.post(reverse("office:ready_text"), {**WORDING, **HOURS, field: typed, "seen_version": "0"})
    assert response.status_code == REFUSED
    assert [said in error for error in response.context["form"].errors[field]] == [True]
    assert not ReadyText.objects.exists()
    assert not OpeningHours.objects.exists()
