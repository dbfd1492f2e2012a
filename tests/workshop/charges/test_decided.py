"""What the customer said stands where the work is decided, with what follows; no limit only where it was said."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests import factories as make
from tests.squeezed import squeezed
from workshop.charges.decided import answers_to, decided
from workshop.counter.ticket_forms import AgreementForm
from workshop.models import Agreement, FreeFinding, Shop, Ticket, User
from workshop.tickets.booking import Agreed
from workshop.tickets.editing import edit_ticket
from workshop.work.event_words import log_lines

pytestmark = pytest.mark.django_db
PAGES = ("counter:ticket", "bench:ticket")


@pytest.fixture
def shop() -> Shop:
    return make.ShopFactory.create(currency="EUR")


@pytest.fixture
def owner(client: Client, shop: Shop) -> Client:
    user = make.UserFactory.create(shop=shop, role=User.Role.OWNER)
    client.force_login(user, backend="workshop.staff.backend.StaffBackend")
    return client


def answer(ticket: Ticket, *, agreed: bool, amount: str = "240.00", revision: int = 1, note: str = "") -> Agreement:
    known = ticket.documents.filter(kind="estimate", revision=revision).first()
    document = known or make.DocumentFactory.create(ticket=ticket, kind="estimate", revision=revision)
    return Agreement.objects.create(
        document=document, ticket=ticket, agreed=agreed, amount=Decimal(amount), data_digest="d", how="phone",
        said_by="Ines Tarn", note=note, at=timezone.now(),
    )  # fmt: skip


def danger(ticket: Ticket) -> FreeFinding:
    return FreeFinding.objects.create(
        ticket=ticket, kind="danger", place="Crown", text="Cracked", at=timezone.now(),
        by=make.UserFactory.create(shop=ticket.shop),
    )  # fmt: skip


def follows(ticket: Ticket, *dangers: str) -> str:
    return decided(ticket, answers_to(ticket), dangers)[0].follows


def pages(client: Client, ticket: Ticket) -> list[str]:
    return [squeezed(client.get(reverse(name, args=[ticket.number])).text) for name in PAGES]


def test_a_yes_says_up_to_what_the_work_may_go(shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, price_ceiling=Decimal(100))
    answer(ticket, agreed=True)
    assert follows(ticket) == "What it lists may be done, up to 240.00 EUR in total."


def test_a_no_leaves_what_was_agreed_before_it_or_nothing(shop: Shop) -> None:
    with_ceiling = make.TicketFactory.create(shop=shop, price_ceiling=Decimal(100))
    without = make.TicketFactory.create(shop=shop)
    for ticket in (with_ceiling, without):
        answer(ticket, agreed=False)
    assert follows(with_ceiling) == "What it lists is not done. Up to 100.00 EUR may still be charged."
    assert follows(without) == "What it lists is not done. Nothing is agreed that costs anything."


def test_only_the_last_answer_stands(shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop)
    answer(ticket, agreed=False)
    last = answer(ticket, agreed=True, revision=2, amount="90.00")
    rows = decided(ticket, answers_to(ticket))
    assert [(row.answer.pk == last.pk, row.stands, bool(row.follows)) for row in rows] == [
        (True, True, True), (False, False, False),
    ]  # fmt: skip


def test_each_answer_stands_on_both_pages_with_what_follows(owner: Client, shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, state="on_the_bench")
    answer(ticket, agreed=True, note="but no new seals")
    for page in pages(owner, ticket):
        assert "The customer agreed to estimate 1." in page
        assert "by phone, said by Ines Tarn: “but no new seals”" in page
        assert "up to 240.00 EUR in total" in page
    answer(ticket, agreed=False, revision=2)
    for page in pages(owner, ticket):
        assert "The customer declined estimate 2." in page
        assert "yes to estimate 1." in page


def test_a_no_beside_a_danger_that_is_not_put_right_leads_to_do_not_ride(owner: Client, shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, state="on_the_bench")
    danger(ticket)
    answer(ticket, agreed=False)
    for page in pages(owner, ticket):
        assert "Not put right, it must not be ridden: " in page
        assert "Do not ride." in page


def test_a_no_without_a_danger_says_nothing_of_riding(owner: Client, shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, state="on_the_bench")
    answer(ticket, agreed=False)
    assert not any("must not be ridden" in page for page in pages(owner, ticket))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "not asked"),
        ({"no_limit_said": True}, "no limit, as the customer said"),
        ({"price_ceiling": Decimal(180)}, "180.00 EUR"),
    ],
)
def test_the_limit_is_shown_as_it_was_said(owner: Client, shop: Shop, fields: dict[str, Any], said: str) -> None:
    ticket = make.TicketFactory.create(shop=shop, state="on_the_bench", **fields)
    charges = squeezed(owner.get(reverse("charges:ticket", args=[ticket.number])).text)
    for page in [*pages(owner, ticket), charges]:
        assert said in page
        assert said.startswith("no limit") or "no limit" not in page.lower()


def test_a_limit_and_no_limit_cannot_both_be(shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, price_ceiling=Decimal(180))
    sent = {
        "complaint_words": "Sits low",
        "promised_on": timezone.localdate(),
        "price_ceiling": "180",
        "no_limit_said": "on",
    }
    form = AgreementForm(sent)
    assert "cannot both be" in form.errors["no_limit_said"][0]
    with pytest.raises(IntegrityError), transaction.atomic():
        Ticket.objects.filter(pk=ticket.pk).update(no_limit_said=True)
    agreed = Agreed("Sits low", timezone.localdate(), price_ceiling=Decimal(180), no_limit_said=True)
    with pytest.raises(ValidationError, match="cannot both be"):
        edit_ticket(ticket=ticket, by=None, seen_version=1, agreed=agreed)


def test_that_there_is_no_limit_is_kept_and_stands_in_the_logbook(shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, price_ceiling=Decimal(180))
    agreed = Agreed(ticket.complaint_words, timezone.localdate() + dt.timedelta(days=3), no_limit_said=True)
    edit_ticket(ticket=ticket, by=None, seen_version=1, agreed=agreed)
    ticket.refresh_from_db()
    assert (ticket.no_limit_said, ticket.price_ceiling) == (True, None)
    (line,) = log_lines(ticket.events.all(), shop)
    assert ("No limit", "not said", "said so") in [(one.label, one.before, one.after) for one in line.changes]


def test_more_answers_ask_no_more_queries(owner: Client, shop: Shop) -> None:
    ticket = make.TicketFactory.create(shop=shop, state="on_the_bench")

    def asked() -> list[int]:
        counts = []
        for name in PAGES:
            with CaptureQueriesContext(connection) as queries:
                owner.get(reverse(name, args=[ticket.number]))
            counts.append(len(queries))
        return counts

    answer(ticket, agreed=False)
    few = asked()
    for revision in range(2, 8):
        answer(ticket, agreed=revision % 2 == 0, revision=revision)
    assert asked() == few
