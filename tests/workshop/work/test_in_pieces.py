"""A ticket called off half-way goes back in pieces: said in red, on screen and paper, and never without a reason."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from diagnosis.models import Run
from diagnosis.runs import start_run
from tests.bench_runs import answered, arrived
from tests.factories import ShopFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.logbook import said
from tests.shipped import shipped_checklist
from workshop.documents.customer_report import gather_customer_report
from workshop.documents.rendering import html_of
from workshop.models import Shop, Ticket, User
from workshop.portal.page import customer_page
from workshop.tickets.settings_record import Settings
from workshop.work.hand_back import hand_back
from workshop.work.in_pieces import InPieces, pieces_of
from workshop.work.moves import move

pytestmark = pytest.mark.django_db
EMPTY = "The positive air chamber is empty"
REASON = "Wants it back as it is; told not to ride it"


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    return made


@pytest.fixture
def owner(client: Client, shop: Shop) -> User:
    made: User = UserFactory(shop=shop, owner=True)
    client.force_login(made)
    return made


def on_the_bench(shop: Shop) -> Ticket:
    ticket: Ticket = TicketFactory(shop=shop, state="on_the_bench")
    run = start_run(checklist=shipped_checklist("loses-air"), facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    ticket.complaints.set([run.checklist.complaint])
    arrived(run)
    return ticket


def open_up(ticket: Ticket) -> None:
    run = Run.objects.get(pk__in=ticket.ticket_runs.values("run"))
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")


def call_off(ticket: Ticket) -> Ticket:
    move(ticket=ticket, to_state="called_off", by=None, seen_version=ticket.version, reason="Too dear")
    return ticket


@pytest.fixture
def opened(shop: Shop) -> Ticket:
    ticket = on_the_bench(shop)
    open_up(ticket)
    return call_off(ticket)


def given_back(ticket: Ticket, reason: str = "") -> None:
    ticket.refresh_from_db()
    hand_back(ticket=ticket, by=None, seen_version=ticket.version, settings=Settings(), reason=reason)


def test_without_a_reason_it_stays(opened: Ticket) -> None:
    for reason in ("", "   "):
        with pytest.raises(InPieces, match=EMPTY):
            given_back(opened, reason)
    opened.refresh_from_db()
    assert (opened.state, opened.settings_records.count()) == ("called_off", 0)


def test_with_a_reason_it_goes_and_the_logbook_says_how(opened: Ticket) -> None:
    given_back(opened, REASON)
    lines = [said(event) for event in opened.events.all()]
    assert any("Handed back in pieces" in line and EMPTY in line for line in lines)
    assert any(REASON in line for line in lines)
    pieces = pieces_of(opened)
    assert EMPTY in pieces.words
    assert pieces.reason == REASON


def test_one_that_was_never_opened_needs_no_reason(shop: Shop) -> None:
    ticket = call_off(on_the_bench(shop))
    assert pieces_of(ticket).words == ()
    given_back(ticket)
    assert ticket.state == "handed_back"
    assert pieces_of(ticket).words == ()


def test_the_page_asks_in_red_and_keeps_what_was_typed(client: Client, owner: User, opened: Ticket) -> None:
    address = reverse("counter:hand_back", args=[opened.number])
    page = client.get(address).text
    assert "It goes back in pieces." in page
    assert "message--error" in page
    assert EMPTY in page
    sent = {"seen_version": opened.version, "seen_settings_version": "0", "remarks": "In a box", "reason": " "}
    for _ in range(2):
        refused = client.post(address, sent)
        assert refused.status_code == 422
        assert "Say why it goes back in pieces" in refused.text
        assert "In a box" in refused.text
    done = client.post(address, {**sent, "reason": REASON})
    assert done.status_code == 302
    ticket = client.get(reverse("counter:ticket", args=[opened.number])).text
    assert "Handed back in pieces." in ticket
    assert EMPTY in ticket


def test_a_called_off_ticket_says_it_before_anybody_presses(client: Client, owner: User, opened: Ticket) -> None:
    assert "It is in pieces." in client.get(reverse("counter:ticket", args=[opened.number])).text


@pytest.mark.parametrize("reason", ["", REASON])
def test_the_paper_says_it_first_and_certifies_no_ride(opened: Ticket, reason: str) -> None:
    if reason:
        given_back(opened, reason)
    data = {**gather_customer_report(opened, ""), "issue": {"revision": 1, "by": "x", "at": "x"}}
    page = html_of("documents/customer_report.html", {**data, "data_digest": ""})
    head = page.index("in pieces")
    assert head < page.index("What you told us")
    assert EMPTY in page
    assert (reason or "Do not ride it") in page
    assert "Before the first ride" not in page
    assert "Next service" not in page


def test_nor_does_the_customers_page_call_it_done(opened: Ticket) -> None:
    assert EMPTY in customer_page(opened).pieces.words
    given_back(opened, REASON)
    assert EMPTY in customer_page(opened).pieces.words


def test_what_a_checklist_from_before_opened_is_unknown(shop: Shop) -> None:
    ticket = on_the_bench(shop)
    run = Run.objects.get(pk__in=ticket.ticket_runs.values("run"))
    open_up(ticket)
    for step in run.checklist.steps.all():
        step.requires, step.opens, step.proves = {}, [], []
        step.answers = {key: {**one, "leaves": {}} for key, one in step.answers.items()}
        step.save()
    call_off(ticket)
    with pytest.raises(InPieces, match="does not say what its steps open"):
        given_back(ticket)
    given_back(ticket, REASON)
