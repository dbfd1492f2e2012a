"""The head of the outbox says what stands beneath it: what waits for another try is not “all sent”."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.factories import ShopFactory, UserFactory
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.models import Message, Shop
from workshop.reminders.delivery import MailServer, NotNow, Refused


@pytest.fixture
def shop(db: None) -> Shop:
    return ShopFactory.create()


@pytest.fixture
def owner(shop: Shop, client: Client) -> Client:
    client.force_login(UserFactory.create(shop=shop, owner=True))
    return client


def head_of(content: bytes) -> str:
    return content.decode().partition('id="sending-title">')[2].partition("</section>")[0]


def stumble(monkeypatch: pytest.MonkeyPatch, problem: Exception) -> None:
    def hand_over(*arguments: Any) -> None:
        raise problem

    monkeypatch.setattr(MailServer, "hand_over", hand_over)


@pytest.mark.parametrize("htmx", [True, False])
def test_what_is_tried_again_later_is_not_sent(
    shop: Shop, owner: Client, monkeypatch: pytest.MonkeyPatch, htmx: bool
) -> None:
    queued(due_unit(shop))
    stumble(monkeypatch, NotNow("450 busy"))
    headers = {"HX-Request": "true"} if htmx else {}
    for _ in range(2):  # pressed again before its time has come
        answer = owner.post(reverse("office:reminders_send"), {"total": "1"}, headers=headers, follow=True)
        head = head_of(answer.content)
        assert "All sent" not in head
        assert "1 email waits for another try" in head
        assert "1 of 1" not in head
    assert "1 email waits for another try" in head_of(owner.get(reverse("office:reminders_outbox")).content)


def test_a_server_away_is_not_all_sent(shop: Shop, owner: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    queued(due_unit(shop))

    def away(way: MailServer) -> None:
        raise NotNow("The mail server cannot be reached")

    monkeypatch.setattr(MailServer, "open", away)
    answer = owner.post(reverse("office:reminders_send"), {"total": "1"}, headers={"HX-Request": "true"})
    assert "1 email waits for another try" in head_of(answer.content)


def test_what_came_back_is_not_sent(shop: Shop, owner: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    queued(due_unit(shop))
    stumble(monkeypatch, Refused("550 no such box"))
    answer = owner.post(reverse("office:reminders_send"), {"total": "1"}, headers={"HX-Request": "true"})
    head = head_of(answer.content)
    assert "All sent" not in head
    assert "1 came back or was cut off" in head


def test_one_that_another_sender_holds_is_not_sent(shop: Shop, owner: Client) -> None:
    held = queued(due_unit(shop))
    queued(due_unit(shop))
    Message.objects.filter(pk=held.pk).update(state=Message.State.CLAIMED, claimed_at=held.queued_at)
    answer = owner.post(reverse("office:reminders_send"), {"total": "2"}, headers={"HX-Request": "true"})
    head = head_of(answer.content)
    assert "All sent" not in head
    assert "1 email is being sent" in head


def test_all_sent_where_it_is(shop: Shop, owner: Client) -> None:
    queued(due_unit(shop))
    queued(
        due_unit(shop, address="1 Weir Lane"), channel="letter"
    )  # letters are posted by hand, and say so in their row
    answer = owner.post(reverse("office:reminders_send"), {"total": "1"}, headers={"HX-Request": "true"})
    assert "All sent" in head_of(answer.content)
