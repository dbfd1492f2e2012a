"""Telling that something is ready: once, true as it leaves, and with what went wrong beside it."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from tests import factories as make
from tests.known import known
from tests.workshop.reminders.due_units import due_unit, queued
from tests.workshop.reminders.test_reminders_sending import Post
from workshop.models import Contact, LabourLine, Message, Shop, Ticket, User
from workshop.promise.opening import OpenSpan, set_opening
from workshop.reminders.delivery import NotNow, Refused
from workshop.reminders.opt_out import stop_reminders
from workshop.reminders.ready_text import DO_NOT_RIDE, NO_PRICE, edit_ready_text, ready_text_of
from workshop.reminders.sending import send_waiting
from workshop.reminders.telling_ready import (
    CannotTell,
    ToldAlready,
    queue_ready_email,
    ready_words,
    tell_ready_by_text,
)
from workshop.reminders.text import TextRefused
from workshop.tickets.models import FreeFinding
from workshop.work.event_words import log_lines

pytestmark = pytest.mark.django_db
State = Message.State


def ready_ticket(**customer: Any) -> Ticket:
    shop = make.ShopFactory.create(name="Mill Yard", email="desk@mill-yard.example", currency="EUR")
    owner = make.CustomerFactory.create(shop=shop, **{"email": "ines@example.org", "name": "Ines Tarn", **customer})
    return make.TicketFactory.create(shop=shop, customer=owner, state="ready")


def clerk_of(ticket: Ticket) -> User:
    return make.UserFactory.create(shop=ticket.shop)


def charge(ticket: Ticket, amount: str) -> None:
    LabourLine.objects.create(ticket=ticket, words="Lowers service", price=Decimal(amount), at=timezone.now())


def test_one_press_sends_the_price_and_is_no_reminder() -> None:
    ticket = ready_ticket(agreed_to_reminders=False)
    charge(ticket, "115.00")
    told = queue_ready_email(ticket=ticket, by=clerk_of(ticket))
    assert send_waiting(shop=ticket.shop, only=told.message_id).sent == 1
    (email,) = mail.outbox
    assert email.to == ["ines@example.org"]
    assert "115.00 EUR" in email.body
    assert "Ines Tarn" in email.body
    assert "List-Unsubscribe" not in email.extra_headers
    assert not email.attachments
    assert "115.00 EUR" in log_lines(ticket.events.all(), ticket.shop)[0].words


def test_pressed_twice_it_is_sent_once() -> None:
    ticket = ready_ticket()
    queue_ready_email(ticket=ticket, by=None)
    with pytest.raises(ToldAlready):
        queue_ready_email(ticket=ticket, by=None)
    send_waiting(shop=ticket.shop)
    with pytest.raises(ToldAlready):
        queue_ready_email(ticket=ticket, by=None)
    assert len(mail.outbox) == Message.objects.count() == Contact.objects.count() == 1


def test_the_database_lets_one_email_through_for_each_time_it_is_ready() -> None:
    told = queue_ready_email(ticket=ready_ticket(), by=None)
    beside = Message.objects.get()
    beside.pk, beside.message_id = None, "<another@mill-yard.example>"
    beside.save()
    with pytest.raises(IntegrityError), transaction.atomic():
        Contact.objects.create(
            ticket=told.ticket, kind="ready_email", ready_since=told.ready_since, message=beside, at=timezone.now()
        )


def test_what_came_back_is_sent_again_to_the_address_as_it_is_now() -> None:
    ticket = ready_ticket()
    told = queue_ready_email(ticket=ticket, by=None)
    send_waiting(shop=ticket.shop, delivery=Post(stumbles=[Refused("550 No such mailbox")]))
    told.refresh_from_db()
    assert told.went_wrong
    ticket.customer.email = "right@example.org"
    ticket.customer.save()
    again = queue_ready_email(ticket=ticket, by=None)
    assert again.pk == told.pk
    send_waiting(shop=ticket.shop)
    assert mail.outbox[0].to == ["right@example.org"]
    assert mail.outbox[0].extra_headers["Message-ID"] == known(told.message).message_id


def test_only_the_one_that_was_pressed_leaves() -> None:
    ticket = ready_ticket()
    waiting = queued(due_unit(ticket.shop))
    told = queue_ready_email(ticket=ticket, by=None)
    send_waiting(shop=ticket.shop, only=told.message_id)
    waiting.refresh_from_db()
    assert waiting.state == State.QUEUED
    assert len(mail.outbox) == 1


def test_a_server_that_is_away_puts_off_only_that_one() -> None:
    ticket = ready_ticket()
    waiting = queued(due_unit(ticket.shop))
    told = queue_ready_email(ticket=ticket, by=None)
    send_waiting(shop=ticket.shop, only=told.message_id, delivery=Post(stumbles=[NotNow("451 Later")]))
    for message, problem in ((known(told.message), "451 Later"), (waiting, "")):
        message.refresh_from_db()
        assert (message.state, message.problem) == (State.QUEUED, problem)


def test_what_is_no_longer_ready_is_not_said_to_be() -> None:
    """The mail server was away, and meanwhile it went back to the bench."""
    ticket = ready_ticket()
    told = queue_ready_email(ticket=ticket, by=None)
    Ticket.objects.filter(pk=ticket.pk).update(state="on_the_bench", state_since=timezone.now())
    assert send_waiting(shop=ticket.shop).called_off == 1
    told.refresh_from_db()
    assert not mail.outbox
    assert told.went_wrong
    assert "no longer ready" in known(told.message).problem


def test_ready_a_second_time_is_told_a_second_time() -> None:
    ticket = ready_ticket()
    queue_ready_email(ticket=ticket, by=None)
    send_waiting(shop=ticket.shop)
    Ticket.objects.filter(pk=ticket.pk).update(state_since=timezone.now())
    queue_ready_email(ticket=ticket, by=None)
    send_waiting(shop=ticket.shop)
    assert len(mail.outbox) == 2


def test_who_stops_reminders_is_still_told_that_it_is_ready() -> None:
    ticket = ready_ticket(agreed_to_reminders=True)
    queue_ready_email(ticket=ticket, by=None)
    stop_reminders(customer=ticket.customer)
    assert send_waiting(shop=ticket.shop).sent == 1


@pytest.mark.parametrize(
    ("state", "email", "why"), [("on_the_bench", "ines@example.org", "not ready"), ("ready", "", "no email address")]
)
def test_what_cannot_be_told_says_why_and_keeps_nothing(state: str, email: str, why: str) -> None:
    ticket = ready_ticket(email=email)
    Ticket.objects.filter(pk=ticket.pk).update(state=state)
    with pytest.raises(CannotTell, match=why):
        queue_ready_email(ticket=ticket, by=None)
    assert not Message.objects.exists()
    assert not Contact.objects.exists()


def test_no_public_address_keeps_no_ready_email_back(settings: Any) -> None:
    """It carries no link of ours."""
    settings.PUBLIC_ADDRESS = ""
    ticket = ready_ticket()
    Shop.objects.update(public_address="")
    queue_ready_email(ticket=Ticket.objects.get(pk=ticket.pk), by=None)
    assert send_waiting(shop=Shop.objects.get(pk=ticket.shop_id), only=Message.objects.get().pk).sent == 1


def test_nothing_charged_is_no_price_and_no_nought() -> None:
    words = ready_words(ready_ticket())
    assert words.price == ""
    assert NO_PRICE in words.body
    assert "0.00" not in words.body


def test_a_line_without_a_price_leaves_the_price_out() -> None:
    ticket = ready_ticket()
    charge(ticket, "40.00")
    make.PartLineFactory.create(ticket=ticket, status="used", unit_price=None)
    assert ready_words(ticket).price == ""


def test_open_till_comes_from_the_hours_and_is_left_out_without() -> None:
    ticket = ready_ticket()
    assert "open" not in ready_words(ticket).body
    now = timezone.localtime()
    all_week = {weekday: (OpenSpan(dt.time(0), dt.time(23, 59)),) for weekday in range(7)}
    set_opening(shop=ticket.shop, week=all_week)
    if now.time() < dt.time(23, 59):
        assert "We are open till 23:59 today." in ready_words(ticket).body


def test_what_must_not_be_ridden_is_said_whatever_the_wording() -> None:
    ticket = ready_ticket()
    FreeFinding.objects.create(
        ticket=ticket, kind="danger", place="Crown", text="Cracked", at=timezone.now(), by=clerk_of(ticket),
        client_id="3f1c7a52-58a8-4c86-9e0b-4a2f0c8f6f10",
    )  # fmt: skip
    words = ready_words(ticket)
    assert DO_NOT_RIDE in words.body
    assert DO_NOT_RIDE in words.text


def test_the_shops_own_wording_and_its_fields() -> None:
    ticket = ready_ticket()
    wording: dict[str, Any] = {
        "subject": "Come, {customer}",
        "body": "{unit}",
        "text": "{shop}: {ticket}",
        "unreached_days": 5,
    }
    stored = edit_ready_text(shop=ticket.shop, seen_version=0, **wording)
    assert ready_text_of(ticket.shop).version == stored.version == 1
    words = ready_words(ticket)
    assert (words.subject, words.text) == ("Come, Ines Tarn", f"Mill Yard: {ticket.number}")
    with pytest.raises(TextRefused, match="due"):
        edit_ready_text(shop=ticket.shop, seen_version=1, **{**wording, "body": "{due}"})


def test_a_text_message_is_written_down_as_it_was_sent() -> None:
    ticket = ready_ticket()
    told = tell_ready_by_text(ticket=ticket, words=" It is ready. ", by=clerk_of(ticket))
    assert (told.kind, told.words, told.ready_since) == ("ready_text", "It is ready.", ticket.state_since)
    with pytest.raises(ValidationError):
        tell_ready_by_text(ticket=ticket, words=" ", by=None)
