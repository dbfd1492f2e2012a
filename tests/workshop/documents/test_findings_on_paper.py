"""Papers tell what was found beside the cause and what answers it; first of all what must not be ridden."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from diagnosis.models import Run
from diagnosis.runs import start_run, tick
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.documents.customer_report import gather_customer_report
from workshop.documents.rendering import html_of
from workshop.documents.work_order import gather_work_order
from workshop.models import FindingAnswer, Ticket, User
from workshop.tickets.settings_record import Settings
from workshop.work.finding_answers import answer_finding, note_finding
from workshop.work.findings import findings_on
from workshop.work.hand_back import hand_back
from workshop.work.work import run_states

pytestmark = pytest.mark.django_db
NO = "Wants to look for a used one"


@pytest.fixture
def ticket() -> Ticket:
    made: Ticket = TicketFactory(state="on_the_bench")
    run = start_run(checklist=shipped_checklist("oil-at-seals"), facts=made.unit.facts(), by=None)
    TicketRunFactory(ticket=made, run=run)
    return made


@pytest.fixture
def mechanic(ticket: Ticket) -> User:
    made: User = UserFactory(shop=ticket.shop, role="mechanic")
    return made


def found(ticket: Ticket, key: str, finding: str) -> None:
    run = Run.objects.get(pk__in=ticket.ticket_runs.values("run"))
    run.checklist.steps.filter(key=key).update(needs=[], requires={})
    tick(run=run, step_key=key, outcome="found", finding=finding, by=None, seen_version=run.version,
         client_id=uuid.uuid4())  # fmt: skip


def report(ticket: Ticket) -> tuple[dict[str, Any], str]:
    data = gather_customer_report(ticket, "")
    return data, html_of("documents/customer_report.html", {**data, "data_digest": ""})


def crack(ticket: Ticket, by: User, how: str = "") -> None:
    note_finding(ticket=ticket, kind="danger", place="Crown", text="Cracked", by=by, client_id=uuid.uuid4())
    if how:
        (finding,) = findings_on(ticket, run_states(ticket))
        answer_finding(
            ticket=ticket, states=run_states(ticket), token=finding.token, how=how, by=by, client_id=uuid.uuid4(),
            words=NO,
        )  # fmt: skip


def test_the_cause_is_told_as_the_cause_and_the_rest_by_the_way(ticket: Ticket, mechanic: User) -> None:
    found(ticket, "inspect-wipers", "by_the_way")
    found(ticket, "look-at-feet", "cause")
    note_finding(ticket=ticket, kind="by_the_way", place="Knobs", text="Chipped", by=mechanic, client_id=uuid.uuid4())
    data, page = report(ticket)
    ((cause,),) = [search["found"] for search in data["searches"]]
    assert cause["title"] != ""
    assert [one["seen"] for one in data["also_found"]][1:] == ["Chipped"]
    assert len(data["also_found"]) == 2
    assert "Also found" in page
    assert "Chipped" in page


def test_the_customers_no_stands_in_its_words(ticket: Ticket, mechanic: User) -> None:
    found(ticket, "inspect-wipers", "by_the_way")
    (finding,) = findings_on(ticket, run_states(ticket))
    answer_finding(
        ticket=ticket, states=run_states(ticket), token=finding.token, how=FindingAnswer.How.DECLINED, by=mechanic,
        client_id=uuid.uuid4(), words=NO,
    )  # fmt: skip
    _, page = report(ticket)
    assert f"The customer said no: {NO}" in page
    assert "Do not ride it" not in page


@pytest.mark.parametrize("gather", [gather_customer_report, gather_work_order])
def test_what_must_not_be_ridden_is_boxed_first_with_a_line_to_sign(
    ticket: Ticket, mechanic: User, gather: Any
) -> None:
    crack(ticket, mechanic, "declined")
    template = "customer_report" if gather is gather_customer_report else "work_order"
    page = html_of(f"documents/{template}.html", {**gather(ticket, ""), "data_digest": ""})
    first = page.index("Do not ride it. It is not safe.")
    assert first < page.index(ticket.complaint_words)
    assert "Signature, date" in page
    assert f"Crown: Cracked. The customer said no: {NO}" in page
    assert "Before the first ride" not in page


def test_handed_back_it_says_who_took_it(ticket: Ticket, mechanic: User) -> None:
    crack(ticket, mechanic, "declined")
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    ticket.refresh_from_db()
    hand_back(ticket=ticket, by=None, seen_version=ticket.version, settings=Settings(), signed_by="R. Winterbourne")
    _, page = report(ticket)
    assert "It was handed back unsafe." in page
    assert "R. Winterbourne" in page
    assert "Next service" not in page


def test_a_work_order_says_what_answers_each_finding_and_what_is_open(ticket: Ticket, mechanic: User) -> None:
    found(ticket, "inspect-wipers", "by_the_way")
    crack(ticket, mechanic)
    rows = gather_work_order(ticket, "")["findings"]
    assert [(row["kind"], row["answered"]) for row in rows] == [("By the way", []), ("Dangerous: do not ride", [])]
    page = html_of("documents/work_order.html", {**gather_work_order(ticket, ""), "data_digest": ""})
    assert page.count("<strong>open</strong>") == 2


def test_a_work_order_of_the_next_visit_warns(ticket: Ticket, mechanic: User) -> None:
    crack(ticket, mechanic, "declined")
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    ticket.refresh_from_db()
    hand_back(ticket=ticket, by=None, seen_version=ticket.version, settings=Settings(), signed_by="R. W.")
    again = TicketFactory(shop=ticket.shop, customer=ticket.customer, unit=ticket.unit)
    page = html_of("documents/work_order.html", {**gather_work_order(again, ""), "data_digest": ""})
    assert "Handed back unsafe last time." in page
    assert page.index("Handed back unsafe last time.") < page.index(again.complaint_words)
