"""Without a mail server nothing is said to be sent, and everything that waits goes on waiting."""

from __future__ import annotations

from typing import Any

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import ShopFactory, UserFactory
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.models import Message, Shop
from workshop.reminders.sending import send_waiting
from workshop.running.standing import standing_of_system

NO_MAIL = "django.core.mail.backends.dummy.EmailBackend"
WITH_MAIL = "django.core.mail.backends.locmem.EmailBackend"
State = Message.State


@pytest.fixture
def shop(db: None) -> Shop:
    return ShopFactory.create()


@pytest.fixture
def waits(shop: Shop, settings: Any) -> Message:
    """Let go while mail was set up; then the server started without it."""
    message = queued(due_unit(shop))
    settings.EMAIL_BACKEND = NO_MAIL
    return message


def still_waits(message: Message) -> bool:
    message.refresh_from_db()
    return message.state == State.QUEUED and message.sent_at is None and message.attempts == 0


def test_the_command_refuses_in_words_and_twice(waits: Message, capsys: pytest.CaptureFixture[str]) -> None:
    for _ in range(2):
        with pytest.raises(CommandError, match=r"1 email waits.*EMAIL_HOST.*Nothing was sent"):
            call_command("send_reminders", quiet=True)
        assert still_waits(waits)
    assert "1 sent" not in capsys.readouterr().out


def test_another_shop_of_the_database_is_seen_to_all_the_same(waits: Message) -> None:
    demo = ShopFactory.create(is_demo=True)
    with_files = queued(due_unit(demo))
    with pytest.raises(CommandError, match="1 email waits"):
        call_command("send_reminders", quiet=True)
    with_files.refresh_from_db()
    assert with_files.state == State.SENT
    assert still_waits(waits)


def test_it_goes_out_once_mail_is_set_up_again(waits: Message, settings: Any) -> None:
    with pytest.raises(CommandError):
        call_command("send_reminders", quiet=True)
    settings.EMAIL_BACKEND = WITH_MAIL
    call_command("send_reminders", quiet=True)
    assert len(mail.outbox) == 1
    waits.refresh_from_db()
    assert waits.state == State.SENT


def test_a_shop_that_prints_letters_is_not_bothered(shop: Shop, settings: Any) -> None:
    settings.EMAIL_BACKEND = NO_MAIL
    queued(due_unit(shop, address="1 Weir Lane"), channel="letter")
    call_command("send_reminders", quiet=True)
    assert send_waiting(shop=shop).handled == 0


def test_without_an_address_to_send_from_nothing_leaves(shop: Shop) -> None:
    message = queued(due_unit(shop))
    Shop.objects.filter(pk=shop.pk).update(email="")
    with pytest.raises(CommandError, match=r"EMAIL_FROM"):
        call_command("send_reminders", quiet=True)
    assert still_waits(message)
    assert mail.outbox == []


def test_the_owner_is_told_on_screen(waits: Message, shop: Shop, client: Client) -> None:
    client.force_login(UserFactory.create(shop=shop, owner=True))
    page = client.get(reverse("office:reminders_outbox")).content.decode()
    assert "1 email waits" in page
    assert "EMAIL_HOST" in page
    assert "Send them" not in page
    for headers in ({}, {"HX-Request": "true"}):
        answer = client.post(reverse("office:reminders_send"), {"total": "1"}, headers=headers, follow=True)
        text = answer.content.decode()
        assert "EMAIL_HOST" in text
        assert "All sent" not in text
        assert " sent, " not in text
        assert "hx-trigger" not in text  # it does not go on asking
        assert still_waits(waits)


def test_the_system_page_says_what_is_wanting(waits: Message, shop: Shop, settings: Any) -> None:
    assert any("EMAIL_HOST" in fact.todo for fact in standing_of_system(shop, timezone.now()).wanting)
    settings.EMAIL_BACKEND = WITH_MAIL
    assert not any("EMAIL_HOST" in fact.todo for fact in standing_of_system(shop, timezone.now()).wanting)
