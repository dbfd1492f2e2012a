"""Which press is the second of one page: the page's own mark says so, whatever token the browser sends."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import TicketFactory, UserFactory
from tests.known import known
from workshop.models import LabourLine, Ticket


@pytest.fixture
def ticket(db: None, client: Client) -> Ticket:
    owner = UserFactory(owner=True)
    client.force_login(owner)
    ticket: Ticket = TicketFactory(shop=known(owner.shop))
    return ticket


@pytest.mark.parametrize(
    ("first", "second", "added"),
    [
        ({"csrfmiddlewaretoken": "now", "page_mark": "a"}, {"csrfmiddlewaretoken": "now", "page_mark": "b"}, 2),
        ({"csrfmiddlewaretoken": "now", "page_mark": "a"}, {"csrfmiddlewaretoken": "now", "page_mark": "a"}, 1),
        ({"csrfmiddlewaretoken": "now", "page_mark": "a"}, {"csrfmiddlewaretoken": "later", "page_mark": "a"}, 1),
        ({"csrfmiddlewaretoken": "a"}, {"csrfmiddlewaretoken": "a"}, 1),  # without scripts the token is the page's own
        ({"csrfmiddlewaretoken": "a"}, {"csrfmiddlewaretoken": "b"}, 2),
    ],
)
def test_a_second_press_is_one_of_the_same_page(
    client: Client, ticket: Ticket, first: dict[str, str], second: dict[str, str], added: int
) -> None:
    for sent in (first, second):
        typed = {"words": "Second try at the bushing", "minutes": "20", **sent}
        answer = client.post(reverse("charges:add_minutes", args=[ticket.number]), typed)
        assert answer.status_code == 302
    assert LabourLine.objects.count() == added
