"""What a customer's link does not let anybody do: fill the shop's history, count as read unread, be tried out."""

from __future__ import annotations

import hashlib
import re
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db.models import F
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from tests.factories import DocumentFactory, PhotoFactory, TicketFactory, UserFactory
from tests.known import known
from tests.squeezed import squeezed
from workshop.charges.agreeing import MOST_ANSWERS_ON_PAGE, agreed_limit, record_answer
from workshop.charges.labour import charge_minutes
from workshop.documents.issuing import issue
from workshop.links.links import make_link
from workshop.links.trying import MOST_WRONG, WAIT
from workshop.models import Agreement, CustomerLink, Document, Ticket, WrongLink
from workshop.tickets.models import TicketEvent

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket() -> Ticket:
    return TicketFactory.create(state=Ticket.State.ON_THE_BENCH)


@pytest.fixture
def secret(ticket: Ticket) -> str:
    return make_link(ticket=ticket, by=None)[1]


@pytest.fixture
def estimate(ticket: Ticket, monkeypatch: pytest.MonkeyPatch) -> Document:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    return an_estimate(ticket, "Look inside")


def an_estimate(ticket: Ticket, words: str) -> Document:
    member = UserFactory(shop=ticket.shop, mechanic=True)
    charge_minutes(ticket=ticket, words=words, minutes=30, by=member)
    return issue(ticket=ticket, kind="estimate", by=member, ticket_address="")


def answer(secret: str, agreed: str) -> Any:
    """What the page that is shown now sends."""
    client = Client()
    page = client.get(reverse("customer:page", args=[secret])).text
    hidden = {name: known(re.search(rf'name="{name}" value="([^"]*)"', page))[1] for name in ("digest", "answered")}
    return client.post(reverse("customer:answer_estimate", args=[secret]), {**hidden, "agreed": agreed})


def test_forty_alternating_answers_are_not_kept_for_ever(ticket: Ticket, secret: str, estimate: Document) -> None:
    answers = [answer(secret, ("yes", "no")[number % 2]) for number in range(40)]
    kept = list(estimate.answers.all())
    assert len(kept) == MOST_ANSWERS_ON_PAGE
    assert [one.agreed for one in kept] == [number % 2 == 0 for number in range(MOST_ANSWERS_ON_PAGE)]
    assert TicketEvent.objects.filter(ticket=ticket, kind__startswith="estimate_").count() == MOST_ANSWERS_ON_PAGE
    refused = answers[MOST_ANSWERS_ON_PAGE]
    assert refused.status_code == 409
    assert "Please call us" in refused.text
    assert "You declined" in refused.text  # what counts stays on the page


def test_the_last_answer_said_again_is_no_further_one(secret: str, estimate: Document) -> None:
    for number in range(MOST_ANSWERS_ON_PAGE):
        answer(secret, ("yes", "no")[number % 2])
    assert answer(secret, "no").status_code == 302
    assert estimate.answers.count() == MOST_ANSWERS_ON_PAGE


def test_the_shop_still_writes_down_an_answer_and_a_new_estimate_is_answered(
    ticket: Ticket, secret: str, estimate: Document
) -> None:
    for number in range(MOST_ANSWERS_ON_PAGE + 1):
        answer(secret, ("yes", "no")[number % 2])
    phone, digest = Agreement.How.PHONE, estimate.data_digest
    record_answer(document=estimate, agreed=True, how=phone, said_by="Odile", by=None, seen_digest=digest)
    assert agreed_limit(None, ticket.agreements.all()) == estimate.answers.latest("pk").amount
    newer = an_estimate(ticket, "Bushings")
    assert answer(secret, "no").status_code == 302
    assert newer.answers.count() == 1


@pytest.fixture
def addresses(ticket: Ticket, secret: str, estimate: Document) -> list[str]:
    """Everything that a link opens by GET."""
    content = b"%PDF-1.7 made up"
    name = default_storage.save("documents/report.pdf", ContentFile(content))
    digest = hashlib.sha256(content).hexdigest()
    DocumentFactory(ticket=ticket, kind=Document.Kind.CUSTOMER_REPORT, pdf=name, digest=digest)
    photo = PhotoFactory(ticket=ticket, for_customer=True)
    default_storage.save(known(photo.file.name), ContentFile(b"made up"))
    return [
        reverse("customer:page", args=[secret]),
        reverse("customer:report", args=[secret]),
        reverse("customer:estimate", args=[secret]),
        reverse("customer:photo", args=[secret, photo.pk, "large"]),
    ]


def test_head_answers_like_get_without_a_body_and_opens_nothing(addresses: list[str]) -> None:
    """Messengers and mail scanners ask so before anybody presses."""
    client = Client()
    heads = [client.head(address) for address in addresses]
    assert CustomerLink.objects.get().last_opened_at is None
    gets = [client.get(address) for address in addresses]
    assert CustomerLink.objects.get().last_opened_at is not None
    for head, get in zip(heads, gets, strict=True):
        assert (head.status_code, get.status_code) == (200, 200)
        assert b"".join(head) == b""
        assert head["Content-Type"] == get["Content-Type"]
        assert head["X-Robots-Tag"] == get["X-Robots-Tag"]


def test_head_of_a_link_that_is_none(secret: str) -> None:
    assert Client().head(reverse("customer:page", args=["x" * 43])).status_code == 404


_TOKEN = re.compile(r"[A-Za-z0-9]{64}")  # a form's, another each time
HERE, ELSEWHERE = "192.0.2.7", "198.51.100.7"


def try_links(times: int, address: str = HERE, **extra: Any) -> list[int]:
    made_up = (reverse("customer:page", args=[f"made-up-{number}"]) for number in range(times))
    return [Client().get(page, REMOTE_ADDR=address, **extra).status_code for page in made_up]


def opened(secret: str, address: str = HERE, **extra: Any) -> int:
    return int(Client().get(reverse("customer:page", args=[secret]), REMOTE_ADDR=address, **extra).status_code)


def test_an_address_that_tries_many_links_has_to_wait(secret: str) -> None:
    assert try_links(MOST_WRONG + 2) == [404] * MOST_WRONG + [429] * 2
    refused = Client().get(reverse("customer:page", args=["made-up"]), REMOTE_ADDR=HERE)
    assert "Too many links" in refused.text
    assert "Try again in 15 minutes" in squeezed(refused.text)
    assert 0 < int(refused["Retry-After"]) <= 15 * 60
    assert WrongLink.objects.count() == MOST_WRONG  # who waits fills no table


def test_at_an_address_that_waits_a_link_that_exists_answers_like_one_that_does_not(secret: str) -> None:
    try_links(MOST_WRONG)
    addresses = [reverse("customer:page", args=[one]) for one in (secret, "made-up")]
    answers = [Client().get(address, REMOTE_ADDR=HERE) for address in addresses]
    assert [answer.status_code for answer in answers] == [429, 429]
    pages = [
        _TOKEN.sub("", answer.text.replace(address, "")) for answer, address in zip(answers, addresses, strict=True)
    ]
    assert pages[0] == pages[1]
    assert Client().post(reverse("customer:say_hours", args=[secret]), REMOTE_ADDR=HERE).status_code == 429
    assert opened(secret, ELSEWHERE) == 200


def test_whoever_opened_the_link_here_before_need_not_wait(secret: str, ticket: Ticket) -> None:
    """Where many customers come by one address, a stranger among them closes nobody's page."""
    never_opened = make_link(ticket=ticket, by=None)[1]
    assert opened(secret) == 200
    try_links(MOST_WRONG)
    assert opened(secret) == 200
    assert opened(never_opened) == 429


def test_the_wait_for_links_ends(secret: str) -> None:
    try_links(MOST_WRONG)
    WrongLink.objects.update(at=F("at") - WAIT)
    assert opened(secret) == 200
    assert try_links(1) == [404]
    assert WrongLink.objects.count() == 1  # what counts no more is not kept


def test_a_few_slips_of_a_customer_cost_nothing(secret: str) -> None:
    try_links(MOST_WRONG - 1)
    assert opened(secret) == 200


def test_forged_links_to_stop_reminders_count_too(secret: str) -> None:
    client = Client()
    for number in range(MOST_WRONG):
        client.get(reverse("customer:stop", args=[f"forged-{number}"]), REMOTE_ADDR=HERE)
    assert client.get(reverse("customer:stop", args=["forged"]), REMOTE_ADDR=HERE).status_code == 429
    assert opened(secret) == 429


def test_behind_a_proxy_links_are_counted_by_the_address_that_the_proxy_saw(secret: str, settings: Settings) -> None:
    settings.BEHIND_PROXY = True
    try_links(MOST_WRONG, "127.0.0.1", HTTP_X_FORWARDED_FOR=f"203.0.113.1, {HERE}")
    assert opened(secret, "127.0.0.1", HTTP_X_FORWARDED_FOR=f"203.0.113.1, {HERE}") == 429
    assert opened(secret, "127.0.0.1", HTTP_X_FORWARDED_FOR=f"203.0.113.1, {ELSEWHERE}") == 200


def test_no_address_is_kept(secret: str) -> None:
    try_links(1)
    opened(secret)
    kept = [WrongLink.objects.get().from_where, CustomerLink.objects.get().opened_from]
    assert kept[0] == kept[1] != ""
    assert HERE not in kept[0]
