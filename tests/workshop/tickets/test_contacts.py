"""Notes and calls on a ticket; who was told, who was not reached, and a word that holds no more."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from tests import factories as make
from workshop.models import Contact, Ticket
from workshop.tickets.contacts import (
    LONGEST_WORDS,
    add_note,
    last_told,
    log_call,
    reached_since,
    told_and_taken_back,
)
from workshop.work.event_words import log_lines

pytestmark = pytest.mark.django_db


def test_a_note_moves_nothing_and_stands_in_the_logbook() -> None:
    ticket = make.TicketFactory.create(state="ready")
    add_note(ticket=ticket, words=" Brings the axle on Friday ", by=make.UserFactory.create(shop=ticket.shop))
    fresh = Ticket.objects.get(pk=ticket.pk)
    assert (fresh.state, fresh.state_since, fresh.version) == ("ready", ticket.state_since, ticket.version)
    (line,) = log_lines(ticket.events.all(), ticket.shop)
    assert line.words == "Noted: Brings the axle on Friday"


def test_a_call_says_when_it_was_and_how_it_ended() -> None:
    ticket = make.TicketFactory.create()
    made = log_call(ticket=ticket, outcome="no_answer", by=None, rang_at=dt.time(0, 0))
    at = timezone.localtime(made.at)
    assert (at.date(), at.time()) == (timezone.localdate(), dt.time(0, 0))
    (line,) = log_lines(ticket.events.all(), ticket.shop)
    assert line.words == "Rang 0:00, no answer"


@pytest.mark.parametrize("words", ["", "  ", "x" * (LONGEST_WORDS + 1)])
def test_a_note_without_words_or_with_too_many_is_refused(words: str) -> None:
    with pytest.raises(ValidationError) as refused:
        add_note(ticket=make.TicketFactory.create(), words=words, by=None)
    assert "words" in refused.value.message_dict
    assert not Contact.objects.exists()


def test_a_call_to_come_or_without_an_end_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    ticket = make.TicketFactory.create()
    noon = timezone.localtime().replace(hour=12, minute=0)
    monkeypatch.setattr("workshop.tickets.contacts.timezone.localtime", lambda: noon)
    with pytest.raises(ValidationError, match="still to come"):
        log_call(ticket=ticket, outcome="reached", by=None, rang_at=dt.time(12, 1))
    with pytest.raises(ValidationError, match="how the call ended"):
        log_call(ticket=ticket, outcome="", by=None)
    assert not Contact.objects.exists()


def test_the_last_call_is_told_and_a_note_is_not() -> None:
    ticket, quiet = make.TicketFactory.create_batch(2)
    log_call(ticket=ticket, outcome="no_answer", by=None, rang_at=dt.time(0, 0))
    log_call(ticket=ticket, outcome="message_left", by=None)
    add_note(ticket=ticket, words="Owes us a mug", by=None)
    assert {key: told.outcome for key, told in last_told([ticket, quiet]).items()} == {ticket.pk: "message_left"}


@pytest.mark.parametrize(("outcome", "is_reached"), [("reached", True), ("no_answer", False), ("message_left", False)])
def test_only_a_voice_is_reached(outcome: str, is_reached: bool) -> None:
    ticket = make.TicketFactory.create()
    made = log_call(ticket=ticket, outcome=outcome, by=None)
    since = made.at - dt.timedelta(days=3)
    assert reached_since([ticket.pk], since) == ({ticket.pk} if is_reached else set())
    assert reached_since([ticket.pk], made.at + dt.timedelta(seconds=1)) == set()


def contact(ticket: Ticket, minutes: int, **fields: object) -> Contact:
    at = ticket.state_since + dt.timedelta(minutes=minutes)
    return Contact(**{"ticket": ticket, "kind": "call", "outcome": "", "at": at, **fields})


def test_ready_that_was_taken_back_is_said_until_somebody_is_reached() -> None:
    ticket = make.TicketFactory.create(state="on_the_bench")
    before = ticket.state_since - dt.timedelta(hours=2)
    told = contact(ticket, -60, kind="ready_text", ready_since=before)
    assert told_and_taken_back(ticket, [told]) is told
    assert told_and_taken_back(ticket, [told, contact(ticket, 5, outcome="no_answer")]) is told
    assert told_and_taken_back(ticket, [told, contact(ticket, 5, outcome="reached")]) is None
    ticket.state = "ready"
    assert told_and_taken_back(ticket, [told]) is told  # ready again, and told of the first time only
    assert (
        told_and_taken_back(ticket, [told, contact(ticket, 5, kind="ready_text", ready_since=ticket.state_since)])
        is None
    )
    ticket.state = "handed_back"
    assert told_and_taken_back(ticket, [told]) is None
