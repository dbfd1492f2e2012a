"""The page on which a checklist is read through and signed, and where else it is said that nobody has."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from diagnosis.in_full import in_full
from diagnosis.loading import load_plan
from diagnosis.models import Checklist
from diagnosis.runs import start_run
from diagnosis.stored import plan_of
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from tests.squeezed import squeezed
from workshop.documents.work_order import gather_work_order
from workshop.models import ChecklistSignature, Ticket, User
from workshop.signed.signing import sign

UNREAD = "Not yet read through by this shop"
FIRST = "record-arrival"
CHANGED = "Changed since this shop read it through"
READ = reverse("checklists:read", args=["sits-low"])
SIGN = reverse("checklists:sign", args=["sits-low"])


@pytest.fixture
def checklist(db: None) -> Checklist:
    return shipped_checklist("sits-low")


@pytest.fixture
def mechanic(owner: User) -> User:
    return UserFactory(shop=owner.shop, mechanic=True, first_name="Bram", last_name="Ashdown")


@pytest.fixture
def bench(client: Client, mechanic: User) -> Client:
    client.force_login(mechanic)
    return client


@pytest.fixture
def ticket(checklist: Checklist, mechanic: User) -> Ticket:
    ticket = TicketFactory(shop=known(mechanic.shop), state="on_the_bench", mechanic=mechanic)
    ticket.complaints.add(checklist.complaint)
    return ticket


def sent(number: int = 1, wording: int = 1, **changed: str) -> dict[str, str]:
    return {"number": str(number), "wording": str(wording), "read": "on", **changed}


def next_version(checklist: Checklist, by: User | None = None) -> Checklist:
    origin = Checklist.Origin.SHOP if by else Checklist.Origin.SHIPPED
    plan = replace(plan_of(checklist), summary="Cheapest first, as ever.")
    load_plan(plan=plan, by=by, origin=origin, written_by=[by] if by else [])
    return Checklist.objects.get(key=checklist.key, is_current=True)


def words_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("&#x27;", "'").replace("&quot;", '"')


def test_the_page_holds_every_word_of_the_list(bench: Client, checklist: Checklist) -> None:
    page = bench.get(READ)
    said = words_of(page.content.decode())
    plan = plan_of(checklist)
    for step in in_full(plan).steps:
        texts = [step.plan.title, *(text for _, text in step.do), *(one.text for one in step.cautions), *step.readings]
        texts += [words for _, words in step.facts] + [line for one in step.answers for line in one.lines]
        assert [text for text in texts if text not in said] == []
    assert [cause.for_customer for cause in plan.causes if cause.for_customer not in said] == []
    assertContains(page, "No trained mechanic of this shop has read it.")


def test_signed_it_says_who_and_when_and_asks_no_more(bench: Client, checklist: Checklist, mechanic: User) -> None:
    assertRedirects(bench.post(SIGN, sent()), READ)
    page = bench.get(READ)
    assertContains(page, "<strong>Bram Ashdown</strong> signed version 1.", html=False)
    assertNotContains(page, UNREAD)
    assertNotContains(page, "Sign as")
    assert ChecklistSignature.objects.get().by == mechanic


def test_unticked_it_is_not_signed(bench: Client, checklist: Checklist) -> None:
    refused = bench.post(SIGN, sent(read=""))
    assert refused.status_code == 422
    assertContains(refused, "Read it through first, then say so here.", status_code=422)
    assert not ChecklistSignature.objects.exists()


@pytest.mark.parametrize("number", ["", "x", "-1", "99999999999999999999"])
def test_a_number_that_is_none_signs_nothing(bench: Client, checklist: Checklist, number: str) -> None:
    assert bench.post(SIGN, sent() | {"number": number}).status_code in (409, 422)
    assert not ChecklistSignature.objects.exists()


def test_pressed_twice_it_is_one_signature(bench: Client, checklist: Checklist) -> None:
    for _ in range(2):
        assertRedirects(bench.post(SIGN, sent()), READ)
    assert ChecklistSignature.objects.count() == 1


def test_changed_while_it_was_read_it_comes_back_as_it_is_now(bench: Client, checklist: Checklist) -> None:
    next_version(checklist)
    refused = bench.post(SIGN, sent())
    assert refused.status_code == 409
    assertContains(refused, "was changed after you opened it", status_code=409)
    assertContains(refused, "Cheapest first, as ever.", status_code=409)
    assert not ChecklistSignature.objects.exists()
    assertRedirects(bench.post(SIGN, sent(2)), READ)


def test_the_next_version_shows_what_changed_since_the_signature(bench: Client, checklist: Checklist) -> None:
    bench.post(SIGN, sent())
    next_version(checklist)
    page = bench.get(READ)
    assertContains(page, CHANGED)
    assertContains(page, "What changed since it was signed")
    assert "is now “Cheapest first, as ever.”" in squeezed(page.content.decode())
    assert "Bram Ashdown signed version 1" in words_of(page.content.decode())


def test_who_changed_it_is_told_that_a_second_person_signs(office: Client, owner: User, checklist: Checklist) -> None:
    next_version(checklist, owner)
    page = office.get(READ)
    assertContains(page, "a second person reads and signs it too")
    assertContains(page, "Nobody else here works at the bench")
    UserFactory(shop=owner.shop, mechanic=True)
    assertNotContains(office.get(READ), "Nobody else here works at the bench")
    signed = office.post(SIGN, sent(2), follow=True)
    assertContains(signed, "Signed. A second person reads and signs it too, for you changed it.")
    assertContains(signed, "Read through only by who changed it")


def test_a_signature_is_taken_back_with_a_reason_and_stays_in_the_list(
    office: Client, owner: User, mechanic: User, checklist: Checklist
) -> None:
    signature = sign(shop=known(owner.shop), checklist=checklist, seen_wording=1, by=mechanic)
    address = reverse("checklists:take_back", args=["sits-low", signature.pk])
    refused = office.post(address, {"reason": " "})
    assert refused.status_code == 422
    assertContains(refused, "Say why it no longer holds.", status_code=422)
    long = office.post(address, {"reason": "y" * 500})
    assertContains(long, "y" * 500, status_code=422)
    done = office.post(address, {"reason": "The port is told wrong."}, follow=True)
    assertContains(done, "The port is told wrong.")
    assertContains(done, UNREAD)
    assert office.post(address, {"reason": "Again."}).status_code == 409


def test_a_mechanic_does_not_take_back_what_another_signed(bench: Client, owner: User, checklist: Checklist) -> None:
    signature = sign(shop=known(owner.shop), checklist=checklist, seen_wording=1, by=owner)
    address = reverse("checklists:take_back", args=["sits-low", signature.pk])
    assert bench.post(address, {"reason": "Not mine."}).status_code == 403
    assertNotContains(bench.get(READ), "Take it back")


def test_another_shops_signature_is_not_there(bench: Client, checklist: Checklist) -> None:
    other = UserFactory(mechanic=True, first_name="Quilla", last_name="Elsewhere")
    signature = sign(shop=known(other.shop), checklist=checklist, seen_wording=1, by=other)
    page = bench.get(READ)
    assertContains(page, UNREAD)
    assertNotContains(page, "Quilla")
    address = reverse("checklists:take_back", args=["sits-low", signature.pk])
    assert bench.post(address, {"reason": "Theirs."}).status_code == 404


def test_an_old_version_is_read_but_not_signed(bench: Client, checklist: Checklist) -> None:
    next_version(checklist)
    page = bench.get(f"{READ}?version=1")
    assertContains(page, "not in use")
    assertNotContains(page, "Sign as")
    assert bench.get(f"{READ}?version=9").status_code == 404


def test_the_list_to_read_has_the_unread_first(bench: Client, checklist: Checklist, mechanic: User) -> None:
    later = shipped_checklist("loses-air")
    sign(shop=known(mechanic.shop), checklist=checklist, seen_wording=1, by=mechanic)
    page = bench.get(reverse("checklists:to_read"))
    assert [line.checklist.pk for line in page.context["lines"]] == [later.pk, checklist.pk]
    assertContains(page, UNREAD, count=1)


def test_the_bench_says_so_on_the_ticket_and_at_the_step(
    bench: Client, checklist: Checklist, ticket: Ticket, mechanic: User
) -> None:
    at_the_ticket = reverse("bench:ticket", args=[ticket.number])
    assertContains(bench.get(at_the_ticket), UNREAD, count=1)
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    at_the_step = reverse("bench:step", args=[ticket.number, run.pk, FIRST])
    for address in (at_the_ticket, at_the_step):
        assertContains(bench.get(address), UNREAD, count=1)
    assertContains(bench.get(at_the_ticket), f"{READ}?version=1")
    bench.post(SIGN, sent())
    for address in (at_the_ticket, at_the_step):
        assertNotContains(bench.get(address), UNREAD)


def test_a_job_begun_before_keeps_what_was_read_of_its_version(
    bench: Client, checklist: Checklist, ticket: Ticket, mechanic: User
) -> None:
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    bench.post(SIGN, sent())
    next_version(checklist)
    page = bench.get(reverse("bench:step", args=[ticket.number, run.pk, FIRST]))
    assertNotContains(page, CHANGED)
    assertNotContains(page, UNREAD)


def test_the_work_order_says_so_beside_the_list(checklist: Checklist, ticket: Ticket, mechanic: User) -> None:
    assert [one["unread"] for one in gather_work_order(ticket, "")["checklists"]] == [UNREAD]
    sign(shop=ticket.shop, checklist=checklist, seen_wording=1, by=mechanic)
    assert [one["unread"] for one in gather_work_order(ticket, "")["checklists"]] == [""]


def test_the_owner_sees_what_is_unread_in_the_list_and_on_the_overview(
    office: Client, owner: User, checklist: Checklist
) -> None:
    assertContains(office.get(reverse("office:checklists")), UNREAD)
    assert "Checklists not read through: 1" in squeezed(office.get(reverse("office:overview")).content.decode())
    sign(shop=known(owner.shop), checklist=checklist, seen_wording=1, by=owner)
    assertNotContains(office.get(reverse("office:checklists")), UNREAD)
    assert "Checklists not read through" not in squeezed(office.get(reverse("office:overview")).content.decode())
