"""The states of a ticket: each lawful move, each unlawful one, and what is kept of it."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from tests import factories
from tests.logbook import said
from workshop.models import StateMove, Ticket
from workshop.tickets.settings_record import Settings
from workshop.web.versions import StaleVersion
from workshop.work.hand_back import hand_back
from workshop.work.moves import LAWFUL_MOVES, UnlawfulMove, move, moves_from

pytestmark = pytest.mark.django_db
State = Ticket.State

# Written out by hand from how the shop works, not from the table in the code.
ALLOWED = {
    ("booked_in", "on_the_bench"), ("booked_in", "waiting"), ("booked_in", "called_off"),
    ("on_the_bench", "waiting"), ("on_the_bench", "ready"), ("on_the_bench", "booked_in"),
    ("on_the_bench", "called_off"),
    ("waiting", "on_the_bench"), ("waiting", "booked_in"), ("waiting", "called_off"),
    ("ready", "handed_back"), ("ready", "on_the_bench"),
    ("called_off", "booked_in"), ("called_off", "handed_back"),
}  # fmt: skip


def in_state(state: str) -> Ticket:
    return factories.TicketFactory(state=state, waiting_for="parts" if state == State.WAITING else "")


def move_to(ticket: Ticket, state: str, **changes: Any) -> StateMove:
    fields: dict[str, Any] = {
        "by": None,
        "seen_version": ticket.version,
        "waiting_for": "parts" if state == State.WAITING else "",
    }
    return move(ticket=ticket, to_state=state, **{**fields, **changes})


@pytest.mark.parametrize(("before", "after"), sorted(ALLOWED))
def test_a_lawful_move_is_made_and_kept(before: str, after: str) -> None:
    ticket = in_state(before)
    made = move_to(ticket, after, reason="as agreed")
    ticket.refresh_from_db()
    assert (ticket.state, ticket.version) == (after, 2)
    assert (made.from_state, made.to_state, made.reason) == (before, after, "as agreed")
    assert "as agreed" in said(ticket.events.get())


@pytest.mark.parametrize(("before", "after"), sorted(set(itertools.product(State.values, repeat=2)) - ALLOWED))
def test_an_unlawful_move_changes_nothing(before: str, after: str) -> None:
    ticket = in_state(before)
    with pytest.raises(UnlawfulMove):
        move_to(ticket, after)
    ticket.refresh_from_db()
    assert (ticket.state, ticket.version, ticket.moves.count()) == (before, 1, 0)


def test_a_refusal_says_what_the_ticket_can_do() -> None:
    with pytest.raises(UnlawfulMove, match="“Handed back” or “On the bench”"):
        move_to(in_state(State.READY), State.WAITING)


def test_every_state_has_its_moves() -> None:
    assert {(before, after) for before in LAWFUL_MOVES for after in moves_from(before)} == ALLOWED


def test_waiting_says_what_for() -> None:
    ticket = in_state(State.BOOKED_IN)
    with pytest.raises(UnlawfulMove, match="what the ticket waits for"):
        move_to(ticket, State.WAITING, waiting_for="")
    ticket.refresh_from_db()
    move_to(ticket, State.WAITING, waiting_for="customer")
    assert ticket.state_words == "Waiting for the customer’s answer"


def test_a_mechanic_who_takes_it_to_the_bench_is_its_mechanic() -> None:
    ticket = in_state(State.BOOKED_IN)
    mechanic = factories.UserFactory(shop=ticket.shop, mechanic=True)
    move_to(ticket, State.ON_THE_BENCH, by=mechanic)
    assert ticket.mechanic == mechanic


def test_the_slower_of_two_gets_the_news_and_not_their_way() -> None:
    ticket = in_state(State.BOOKED_IN)
    slower = Ticket.objects.get(pk=ticket.pk)
    move_to(ticket, State.ON_THE_BENCH)
    with pytest.raises(StaleVersion):
        move_to(slower, State.CALLED_OFF)
    assert slower.state == State.ON_THE_BENCH


def test_hand_back_keeps_the_settings_it_leaves_with() -> None:
    ticket = in_state(State.READY)
    hand_back(ticket=ticket, by=None, seen_version=1, settings=Settings(rebound_clicks=9))
    ticket.refresh_from_db()
    assert ticket.state == State.HANDED_BACK
    assert ticket.settings_records.get().rebound_clicks == 9
    assert ticket.settings_records.get().moment == "hand_back"


def test_hand_back_of_what_is_not_ready_keeps_nothing() -> None:
    ticket = in_state(State.ON_THE_BENCH)
    with pytest.raises(UnlawfulMove):
        hand_back(ticket=ticket, by=None, seen_version=1, settings=Settings(rebound_clicks=9))
    ticket.refresh_from_db()
    assert (ticket.state, ticket.version, ticket.settings_records.count()) == (State.ON_THE_BENCH, 1, 0)
