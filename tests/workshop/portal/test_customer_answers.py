"""A customer's answer brings the waiting ticket forward, at the counter and at the bench."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import TicketFactory, UserFactory
from tests.known import known
from tests.squeezed import squeezed
from workshop.charges.agreeing import record_answer
from workshop.charges.answers import answered_tickets
from workshop.charges.labour import charge_minutes
from workshop.documents.issuing import issue
from workshop.links.links import make_link
from workshop.models import Document, Ticket, User
from workshop.work.moves import move

pytestmark = pytest.mark.django_db


@pytest.fixture
def mechanic(client: Client, monkeypatch: pytest.MonkeyPatch) -> User:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    member: User = UserFactory(mechanic=True)
    client.force_login(member)
    return member


@pytest.fixture
def estimate(mechanic: User) -> Document:
    ticket = TicketFactory(shop=mechanic.shop)
    charge_minutes(ticket=ticket, words="Look inside", minutes=30, by=mechanic)
    issued = issue(ticket=ticket, kind="estimate", by=mechanic, ticket_address="")
    move(ticket=ticket, to_state="waiting", waiting_for="customer", by=mechanic, seen_version=1)
    return issued


def answer(estimate: Document, agreed: bool = True, **more: Any) -> None:
    fields = {"how": "phone", "said_by": "Odile", "by": None, "seen_digest": estimate.data_digest}
    record_answer(document=estimate, agreed=agreed, **(fields | more))


@pytest.mark.parametrize(("agreed", "word"), [(True, "Agreed"), (False, "Declined")])
def test_an_answer_marks_the_ticket_at_the_counter_and_on_the_board(
    client: Client, estimate: Document, agreed: bool, word: str
) -> None:
    assert [ticket.pk for ticket in client.get(reverse("counter:today")).context["day"].unanswered] == [
        estimate.ticket_id
    ]
    answer(estimate, agreed, note="But not the damper")
    page = client.get(reverse("counter:today"))
    day = page.context["day"]
    assert ([ticket.pk for ticket in day.answered], list(day.unanswered)) == ([estimate.ticket_id], [])
    assert "The customer answered" in page.text
    assert word in page.text
    assert "But not the damper" in page.text
    board = client.get(reverse("bench:board"))
    assert [ticket.pk for ticket in board.context["answered"].tickets] == [estimate.ticket_id]
    assert board.context["waiting"].tickets == []
    assert word in board.text


def test_an_answer_from_before_it_waited_again_is_none(client: Client, mechanic: User, estimate: Document) -> None:
    answer(estimate)
    ticket = Ticket.objects.get(pk=estimate.ticket_id)
    move(ticket=ticket, to_state="on_the_bench", by=mechanic, seen_version=ticket.version)
    assert answered_tickets(known(mechanic.shop)) == set()
    move(ticket=ticket, to_state="waiting", waiting_for="customer", by=mechanic, seen_version=ticket.version)
    assert answered_tickets(known(mechanic.shop)) == set()
    assert [one.pk for one in client.get(reverse("counter:today")).context["day"].unanswered] == [ticket.pk]


def test_another_shops_answers_are_not_seen(estimate: Document) -> None:
    answer(estimate)
    assert answered_tickets(known(UserFactory().shop)) == set()


def on_the_customers_page(client: Client, ticket: Ticket) -> str:
    return client.get(f"/c/{make_link(ticket=ticket, by=None)[1]}/").text


@pytest.mark.parametrize(
    ("agreed", "said"), [(True, "Thank you for agreeing to the estimate"), (False, "You declined the estimate")]
)
def test_who_answered_is_not_asked_to_answer_any_more(
    client: Client, estimate: Document, agreed: bool, said: str
) -> None:
    assert "Please answer below" in on_the_customers_page(client, estimate.ticket)
    answer(estimate, agreed)
    page = on_the_customers_page(client, estimate.ticket)
    assert "We have your answer" in page
    assert said in page
    assert "Please answer" not in page
    charge_minutes(ticket=estimate.ticket, words="Bushings", minutes=60, by=None)
    issue(ticket=estimate.ticket, kind="estimate", by=UserFactory(shop=estimate.ticket.shop), ticket_address="")
    assert "Please answer below" in on_the_customers_page(client, estimate.ticket)  # the new one is not answered yet


def test_who_has_no_estimate_or_is_asked_once_more_is_asked_to_call(client: Client, estimate: Document) -> None:
    answer(estimate)
    ticket = Ticket.objects.get(pk=estimate.ticket_id)
    move(ticket=ticket, to_state="on_the_bench", by=None, seen_version=ticket.version)
    move(ticket=ticket, to_state="waiting", waiting_for="customer", by=None, seen_version=ticket.version)
    without = TicketFactory(shop=ticket.shop, state="waiting", waiting_for="customer")
    for one in (ticket, without):
        page = on_the_customers_page(client, one)
        assert "Please call us so that we can continue." in page
        assert "answer below" not in page


def test_a_no_to_a_ready_ticket_stands_at_the_counter_on_the_ticket_and_where_it_is_handed_back(
    client: Client, estimate: Document
) -> None:
    client.force_login(UserFactory(shop=estimate.ticket.shop))
    Ticket.objects.filter(pk=estimate.ticket_id).update(state="ready", waiting_for="")
    number = [estimate.ticket.number]
    pages = [
        reverse("counter:today"),
        reverse("counter:ticket", args=number),
        reverse("counter:hand_back", args=number),
    ]
    assert not any("eclined" in client.get(page).text for page in pages)
    answer(estimate, agreed=False, note="Too dear for me")
    for page in pages:
        text = client.get(page).text
        assert "eclined" in text, page
        assert "Too dear for me" in text, page
    answer(estimate, agreed=True)
    assert not any("eclined" in client.get(page).text for page in pages)


def send(client: Client, address: str, page: str, agreed: str) -> Any:
    """The form as that page had it, pressed now."""
    hidden = {name: known(re.search(rf'name="{name}" value="([^"]*)"', page))[1] for name in ("digest", "answered")}
    return client.post(address, {**hidden, "agreed": agreed, "how": "phone", "said_by": "Odile"})


def test_a_second_page_opened_before_the_no_does_not_turn_it_into_a_yes(client: Client, estimate: Document) -> None:
    secret = make_link(ticket=estimate.ticket, by=None)[1]
    address = reverse("customer:answer_estimate", args=[secret])
    first, second = (Client(), Client())
    seen = second.get(f"/c/{secret}/").text
    assert send(first, address, first.get(f"/c/{secret}/").text, "no").status_code == 302
    refused = send(second, address, seen, "yes")
    assert refused.status_code == 409
    assert "you declined" in squeezed(refused.text).lower()
    assert [one.agreed for one in estimate.answers.all()] == [False]
    # Read again, the answer may be changed; the same page pressed twice stays one answer.
    again = second.get(f"/c/{secret}/").text
    assert send(second, address, again, "yes").status_code == 302
    assert send(second, address, again, "yes").status_code == 302
    assert [one.agreed for one in estimate.answers.all()] == [False, True]


def test_the_counter_does_not_write_over_what_the_customer_said_meanwhile(client: Client, estimate: Document) -> None:
    address = reverse("charges:answer", args=[estimate.ticket.number])
    seen = client.get(reverse("charges:ticket", args=[estimate.ticket.number])).text
    answer(estimate, False)
    refused = send(client, address, seen, "yes")
    assert refused.status_code == 409
    assert "meanwhile" in refused.text
    assert [one.agreed for one in estimate.answers.all()] == [False]
