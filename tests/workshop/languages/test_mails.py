"""Reminders, letters and the word that something is ready, in the customer's language."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language

from tests.factories import ShopFactory, SuspensionUnitFactory, TicketFactory, UserFactory
from tests.handed_over import ready_ticket
from tests.pseudo import plain_english, said_in, typed_in_the_shop
from tests.workshop.reminders.due_units import due_unit, queued, row_of
from workshop.models import Customer, Message, Ticket, Visit
from workshop.promise.models import OpeningHours
from workshop.pseudo_names import ACCENTED
from workshop.reminders.delivery import email_of
from workshop.reminders.letter import letter_pdf
from workshop.reminders.ready_text import all_of
from workshop.reminders.telling_ready import ready_words
from workshop.reminders.wording import draft_for, text_of
from workshop.staff.models import Shop

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("pseudo"), pytest.mark.any_database]


@pytest.fixture
def shop() -> Shop:
    return ShopFactory(phone="0555 1", email="desk@mill-yard.example", is_demo=True)


def lines_of(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.strip()]


def test_a_reminder_with_its_calendar_entry_and_foot(shop: Shop) -> None:
    unit = due_unit(shop, papers_language=ACCENTED)
    row = row_of(unit)
    draft = draft_for(row, text_of(shop), timezone.localdate())
    # Why it is due is made by the forecast, which knows no translation yet.
    known = typed_in_the_shop() | {unit.title, row.first.explanation}
    assert plain_english([draft.subject, *lines_of(draft.body)], known) == []
    message = queued(unit, subject=draft.subject, body=draft.body)
    assert message.language == ACCENTED
    unfolded = message.calendar.replace("\r\n ", "")
    worded = [line.partition(":")[2] for line in unfolded.splitlines() if line.startswith(("SUMMARY", "DESCRIPTION"))]
    assert len(worded) == 3
    assert plain_english(worded, known) == []
    assert plain_english(lines_of(str(email_of(message).body)), known) == []
    assert get_language() == "en-gb"


def test_a_text_of_the_shops_own_goes_out_as_it_was_written(shop: Shop) -> None:
    own = text_of(shop)
    own.subject, own.body, own.version = "Come in, {customer}", "Soon.", 1
    own.save()
    draft = draft_for(row_of(due_unit(shop, papers_language=ACCENTED, name="Ana")), own, timezone.localdate())
    assert (draft.subject, draft.body) == ("Come in, Ana", "Soon.")


def test_a_letter_keeps_the_language_it_was_written_in(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    pages: list[str] = []

    def keep(html: str, paper: str) -> bytes:
        pages.append(html)
        return b""

    monkeypatch.setattr("workshop.reminders.letter.pdf_of", keep)
    unit = due_unit(shop, papers_language=ACCENTED, address="1 Weir Row")
    message = queued(unit, channel="letter")
    Customer.objects.update(papers_language="")
    letter_pdf(Message.objects.get(pk=message.pk))
    assert 'lang="en-xa"' in pages[0]
    typed = typed_in_the_shop() | {message.subject, message.body}
    assert plain_english(said_in(pages[0]), typed) == []


@pytest.mark.parametrize("several", [False, True])
def test_the_word_that_it_is_ready(several: bool, shop: Shop) -> None:
    for weekday in range(7):
        OpeningHours.objects.create(shop=shop, weekday=weekday, opens="09:00", closes="12:00")
        OpeningHours.objects.create(shop=shop, weekday=weekday, opens="13:00", closes="18:00")
    ticket = ready_ticket("80.00", shop=shop, visit=Visit.objects.create(shop=shop))
    Customer.objects.update(papers_language=ACCENTED)
    if several:
        unit = SuspensionUnitFactory(shop=shop, customer=ticket.customer)
        ready_ticket("0", shop=shop, customer=ticket.customer, unit=unit, visit=ticket.visit)
        TicketFactory(shop=shop, customer=ticket.customer, visit=ticket.visit, price_ceiling=Decimal(9))
    told = ready_words(Ticket.objects.select_related("shop", "customer").get(pk=ticket.pk))
    titles = {one.unit.title for one in Ticket.objects.all()}
    said = [told.subject, *lines_of(told.body), told.text, told.open_words]
    assert plain_english(said, typed_in_the_shop() | titles) == []
    assert get_language() == "en-gb"


def test_a_link_is_sent_in_words_of_theirs(shop: Shop, client: Client) -> None:
    ticket = TicketFactory(shop=shop, customer__email="ana@weir-row.example", customer__papers_language=ACCENTED)
    client.force_login(UserFactory(shop=shop))
    page = client.post(reverse("customer:make_link", args=[ticket.number]))
    assert "?subject=%5B" in page.text
    assert '<html lang="en">' in page.text


def test_lists_are_joined_as_they_were(shop: Shop) -> None:
    assert [all_of(words) for words in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]
