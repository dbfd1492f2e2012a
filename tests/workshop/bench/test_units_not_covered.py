"""A unit of a kind that no checklist covers is refused in plain words, on the screen and past it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from diagnosis.models import Checklist, Run, Step
from diagnosis.runs import NotCovered, start_run
from specs.models import SuspensionModel
from tests.factories import ChecklistFactory, ComplaintFactory, StepFactory, TicketFactory, UserFactory
from tests.known import known
from workshop.documents.work_order import gather_work_order
from workshop.staff.models import User
from workshop.tickets.models import Ticket

pytestmark = pytest.mark.django_db


@pytest.fixture
def mechanic(client: Client) -> User:
    user: User = UserFactory(mechanic=True)
    client.force_login(user)
    return user


@pytest.fixture
def checklist() -> Checklist:
    made: Checklist = ChecklistFactory(complaint=ComplaintFactory(), suits=["fork"], title="Grumbles")
    StepFactory(checklist=made)
    return made


@pytest.fixture
def ticket(mechanic: User, checklist: Checklist) -> Ticket:
    made: Ticket = TicketFactory(shop=mechanic.shop, state="on_the_bench")
    made.complaints.add(checklist.complaint)
    SuspensionModel.objects.filter(pk=known(made.unit.model).pk).update(crowns="twin", bleed_buttons=None)
    return Ticket.objects.get(pk=made.pk)


def test_the_bench_says_what_is_not_covered_and_offers_no_button(
    client: Client, ticket: Ticket, checklist: Checklist
) -> None:
    page = client.get(reverse("bench:ticket", args=[ticket.number])).content.decode()
    assert "“Grumbles” does not cover a fork with a twin crown" in page
    assert reverse("bench:start", args=[ticket.number, checklist.key]) not in page
    paper = gather_work_order(ticket, "")
    assert paper["checklists"] == []
    (words,) = paper["not_covered"]
    assert words.startswith("“Grumbles” does not cover a fork with a twin crown")


def test_who_sends_it_all_the_same_is_told_why(client: Client, ticket: Ticket, checklist: Checklist) -> None:
    sent = client.post(reverse("bench:start", args=[ticket.number, checklist.key]), follow=True)
    assert "does not cover a fork with a twin crown" in sent.content.decode()
    assert not Run.objects.exists()
    with pytest.raises(NotCovered, match="maker’s manual"):
        start_run(checklist=checklist, facts=ticket.unit.facts(), by=None)


def test_a_checklist_that_asks_for_it_is_offered(client: Client, ticket: Ticket, checklist: Checklist) -> None:
    Step.objects.filter(checklist=checklist).update(do=[{"text": "Both crowns.", "when": {"crowns": ["twin"]}}])
    page = client.get(reverse("bench:ticket", args=[ticket.number])).content.decode()
    assert reverse("bench:start", args=[ticket.number, checklist.key]) in page
    assert "does not cover" not in page
    paper = gather_work_order(ticket, "")
    assert [planned["title"] for planned in paper["checklists"]] == ["Grumbles"]
    assert paper["not_covered"] == []
    client.post(reverse("bench:start", args=[ticket.number, checklist.key]))
    assert Run.objects.get().facts["crowns"] == "twin"
