"""What was written down wrongly: the model of a unit that is here, and the words of a closed ticket."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from tests.factories import ComplaintFactory, DocumentFactory, SuspensionModelFactory, TicketFactory, UserFactory
from tests.known import known
from tests.logbook import changed, said
from workshop.models import Document, SuspensionUnit, Ticket, User
from workshop.privacy.erasing import erase_customer
from workshop.tickets.correcting import correct_unit, correct_words
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db
WHY = "Heard it wrongly"


@pytest.fixture
def ticket() -> Ticket:
    made: Ticket = TicketFactory(complaint_words="It sits low", notes="")
    return made


@pytest.fixture
def clerk(client: Client, ticket: Ticket) -> User:
    made: User = UserFactory(shop=ticket.shop)
    client.force_login(made)
    return made


def test_a_corrected_model_stands_in_the_logbook_of_the_ticket_it_is_here_on(ticket: Ticket, clerk: User) -> None:
    before = TicketFactory(
        shop=ticket.shop, customer=ticket.customer, unit=ticket.unit, state="handed_back", number=90_001
    )
    unit, right = SuspensionUnit.objects.get(pk=ticket.unit_id), SuspensionModelFactory()
    correct_unit(unit=unit, by=clerk, seen_version=1, model=right, travel_m=0.14, serial=unit.serial)
    line = known(ticket.events.first())
    assert (said(line), line.by) == ("Fork or shock corrected", clerk)
    assert changed(line) == {"Model": [str(ticket.unit.model), str(right)], "Travel": ["130 mm", "140 mm"]}
    assert not before.events.exists()
    correct_unit(unit=unit, by=clerk, seen_version=2, serial=unit.serial)
    assert ticket.events.count() == 1, "nothing changed, nothing said"
    with pytest.raises(StaleVersion):
        correct_unit(unit=unit, by=clerk, seen_version=2, serial="Other")


def test_the_page_of_a_unit_writes_it(client: Client, ticket: Ticket, clerk: User) -> None:
    sent = {"seen_version": 1, "described_as": "Harrowgate Lapwing", "kind": "fork", "serial": "SN-RIGHT"}
    assert client.post(reverse("counter:change_unit", args=[ticket.unit_id]), sent).status_code == 302
    assert changed(ticket.events.first())["Serial"] == [ticket.unit.serial, "SN-RIGHT"]


@pytest.mark.parametrize("state", ["handed_back", "called_off", "on_the_bench"])
def test_words_are_put_right_of_a_closed_ticket_too_and_no_paper_changes(
    ticket: Ticket, clerk: User, state: str
) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state=state)
    paper = DocumentFactory(ticket=ticket, data={"complaint_words": "It sits low"})
    complaint = ComplaintFactory(title="Knocks when braking")
    correct_words(
        ticket=ticket, by=clerk, seen_version=1, complaint_words=" It knocks ", complaints=[complaint], notes="Twice",
        reason=WHY,
    )  # fmt: skip
    stored = Ticket.objects.get(pk=ticket.pk)
    assert (stored.complaint_words, list(stored.complaints.all()), stored.version) == ("It knocks", [complaint], 2)
    assert "knocks" in stored.search_text
    line = known(ticket.events.first())
    assert (said(line), line.by) == (f"Put right: {WHY}", clerk)
    assert changed(line)["Customer’s words"] == ["It sits low", "It knocks"]
    assert Document.objects.get(pk=paper.pk).data == {"complaint_words": "It sits low"}


def test_refusals_leave_it_as_it_was(ticket: Ticket) -> None:
    good: dict[str, Any] = {"complaint_words": "It knocks", "complaints": [], "notes": "", "reason": WHY}
    for wrong in ({"reason": " "}, {"complaint_words": " "}):
        with pytest.raises(ValidationError):
            correct_words(ticket=ticket, by=None, seen_version=1, **{**good, **wrong})
    with pytest.raises(StaleVersion):
        correct_words(ticket=ticket, by=None, seen_version=5, **good)
    Ticket.objects.filter(pk=ticket.pk).update(state="called_off")
    erase_customer(customer=ticket.customer, by=None)
    with pytest.raises(ValidationError, match="erased"):
        correct_words(ticket=Ticket.objects.get(pk=ticket.pk), by=None, seen_version=2, **good)


def test_the_page_of_a_closed_ticket(client: Client, ticket: Ticket, clerk: User) -> None:
    address = reverse("counter:right_words", args=[ticket.number])
    assert address not in client.get(reverse("counter:put_right", args=[ticket.number])).content.decode()
    Ticket.objects.filter(pk=ticket.pk).update(state="handed_back")
    assert address in client.get(reverse("counter:put_right", args=[ticket.number])).content.decode()
    assert "It sits low" in client.get(address).content.decode()
    sent = {"seen_version": 1, "complaint_words": "It knocks", "notes": ""}
    refused = client.post(address, sent)
    assert (refused.status_code, "It knocks" in refused.content.decode()) == (422, True)
    assert client.post(address, {**sent, "reason": WHY}).status_code == 302
    late = client.post(address, {**sent, "complaint_words": "It creaks", "reason": WHY})
    assert (late.status_code, "It creaks" in late.content.decode()) == (409, True)
    assert Ticket.objects.get(pk=ticket.pk).complaint_words == "It knocks"
