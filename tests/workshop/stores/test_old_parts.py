"""Old parts: kept, given, thrown away with consent, sent in; on their ticket and in the stores."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import TicketFactory, UserFactory
from tests.logbook import said
from workshop.models import OldPart, Ticket
from workshop.web.versions import StaleVersion
from workshop.work.old_parts import change_old_part, keep_old_part

pytestmark = pytest.mark.django_db
AGREED = "2026-03-05"


@pytest.fixture
def ticket(client: Client) -> Ticket:
    member = UserFactory()
    client.force_login(member)
    return TicketFactory(shop=member.shop)


@pytest.fixture
def part(ticket: Ticket) -> OldPart:
    return keep_old_part(ticket=ticket, words="Wipers", by=None)


def send(client: Client, part: OldPart, **changes: Any) -> Any:
    sent = {"seen_version": part.version, "state": "thrown_away", "note": "Odile Novák agreed", "agreed_on": AGREED}
    sent |= changes
    return client.post(reverse("stores:change_old_part", args=[part.pk]), sent)


def test_kept_thrown_away_and_put_right_again(client: Client, ticket: Ticket) -> None:
    client.post(reverse("stores:keep_old_part", args=[ticket.number]), {"words": "Wipers"})
    part = OldPart.objects.get()
    assertContains(client.get(reverse("stores:old_parts")), "Kept for the customer")
    assert send(client, part).status_code == 302
    assert "Old part Wipers: thrown away, Odile Novák agreed, agreed on Thu 5 Mar 2026" in said(ticket.events.first())
    assert str(OldPart.objects.get().agreed_on) == AGREED
    assertContains(client.get(reverse("stores:ticket_old_parts", args=[ticket.number])), "agreed on")
    assertNotContains(client.get(reverse("stores:old_parts")), "Wipers")
    part.refresh_from_db()
    assert send(client, part, state="kept", note="").status_code == 302
    assertContains(client.get(reverse("stores:old_parts")), "Wipers")
    assert ticket.events.filter(kind="old_part").count() == 3


@pytest.mark.parametrize(
    ("changes", "field", "reason"),
    [
        ({"note": " "}, "note", "who agreed"), ({"state": "sent_in", "note": ""}, "note", "where it was sent"),
        ({"state": "eaten"}, "state", "where it is"), ({"note": "x" * 121}, "note", "120"),
        ({"agreed_on": ""}, "agreed_on", "when they agreed"), ({"agreed_on": "3001-01-01"}, "agreed_on", "to come"),
        ({"agreed_on": "yesterday"}, "agreed_on", "Enter a day"),
        *(({"state": state}, "state", "not sent in yet") for state in ("accepted", "refused", "came_back", "replaced")),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_beside_its_field(
    client: Client, part: OldPart, changes: dict[str, str], field: str, reason: str
) -> None:
    answer = send(client, part, **changes)
    assert answer.status_code == 422
    assert reason in answer.context["change_form"].errors[field][0]
    assert OldPart.objects.get().state == "kept"


def test_without_words_nothing_is_kept(client: Client, ticket: Ticket) -> None:
    answer = client.post(reverse("stores:keep_old_part", args=[ticket.number]), {"words": " "})
    assert answer.status_code == 422
    with pytest.raises(ValidationError):
        keep_old_part(ticket=ticket, words=" ", by=None)
    assert not OldPart.objects.exists()


def test_of_two_at_once_the_slower_is_told(client: Client, part: OldPart) -> None:
    change_old_part(part=OldPart.objects.get(), state="given", note="", seen_version=1, by=None)
    assert send(client, part).status_code == 409
    with pytest.raises(StaleVersion):
        change_old_part(part=part, state="kept", note="", seen_version=1, by=None)
    assert OldPart.objects.get().state == "given"


@pytest.mark.parametrize("refused", [False, True])
def test_sent_in_answered_and_back_is_seen_from_the_ticket_and_the_stores(
    client: Client, ticket: Ticket, part: OldPart, refused: bool
) -> None:
    answer = "refused" if refused else "accepted"
    for state, words in (("sent_in", "Sent in for warranty"), (answer, f"Warranty {answer}")):
        part.refresh_from_db()
        assert send(client, part, state=state, note="To the maker, 24-9").status_code == 302
        for address in (
            reverse("stores:old_parts"), reverse("stores:old_parts") + "?show=away",
            reverse("stores:ticket_old_parts", args=[ticket.number]),
        ):  # fmt: skip
            assertContains(client.get(address), words)
        assertContains(client.get(reverse("bench:parts_and_charges", args=[ticket.number])), words.lower())
    part.refresh_from_db()
    assert part.agreed_on is None
    assert send(client, part, state="came_back", note="").status_code == 302
    assertContains(client.get(reverse("stores:old_parts")), "Came back from warranty")
    assertNotContains(client.get(reverse("stores:old_parts") + "?show=away"), "Wipers")
    part.refresh_from_db()
    assert send(client, part, state="given", note="").status_code == 302
    assertNotContains(client.get(reverse("stores:old_parts")), "Wipers")
    assert ticket.events.filter(kind="old_part").count() == 5


@pytest.mark.parametrize(
    "bad", [{"state": "thrown_away"}, {"agreed_on": AGREED}, {"state": "sent_in"}, {"state": "x"}, {"words": ""}]
)
def test_the_database_refuses_it_too(part: OldPart, bad: dict[str, str]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        OldPart.objects.update(**bad)


def test_the_queries_do_not_grow(
    client: Client, ticket: Ticket, part: OldPart, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _ in range(2):
        for address, queries in ((reverse("stores:old_parts"), 4),
                                 (reverse("stores:ticket_old_parts", args=[ticket.number]), 4)):  # fmt: skip
            with django_assert_num_queries(queries):
                client.get(address)
        for number in range(4):
            keep_old_part(ticket=ticket, words=f"Ring {number}", by=None)
