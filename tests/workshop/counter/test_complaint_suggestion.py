"""The line "sounds like ..." on the booking page."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from tests.factories import UserFactory
from tests.shipped import shipped_checklist
from tests.squeezed import squeezed
from workshop.models import Shop, User

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk(client: Client) -> User:
    for key in ("sits-low", "harsh-or-sticky", "shock-sits-low"):
        shipped_checklist(key)
    clerk = UserFactory()
    client.force_login(clerk)
    return clerk


def line(client: Client, words: str, **more: str) -> str:
    answer = client.post(reverse("counter:book_in_complaints"), {"ticket-complaint_words": words} | more)
    assert answer.status_code == 200
    return answer.text


def test_it_names_the_complaints_and_a_press_ticks_their_boxes(client: Client, clerk: User) -> None:
    text = line(client, "It dives and feels wooden")
    labels = dict(re.findall(r'<label class="sounds-like__one" for="([^"]+)">([^<]+)</label>', squeezed(text)))
    assert set(labels.values()) == {"sits low in its travel", "harsh or sticky"}
    page = client.get(reverse("counter:book_in")).text
    for box, title in labels.items():
        assert re.search(rf'<label for="{box}">\s*<input[^>]*id="{box}"[^>]*>\s*{title}', page, re.IGNORECASE)


def test_only_the_line_is_sent_back(client: Client, clerk: User) -> None:
    text = line(client, "it dives")
    assert "<form" not in text
    assert "<input" not in text
    assert "<textarea" not in text


def test_what_is_ticked_already_is_said(client: Client, clerk: User) -> None:
    complaint = shipped_checklist("sits-low").complaint
    assert "(ticked)" in line(client, "it dives", **{"ticket-complaints": str(complaint.pk)})
    assert "(ticked)" not in line(client, "it dives")


def test_a_shock_has_its_own_complaints(client: Client, clerk: User) -> None:
    assert "travel</label>" in squeezed(line(client, "it will not come up again"))
    assert "shock" in line(client, "the shock is stuck down", **{"unit-kind": "shock"}).lower()
    assert "harsh" not in line(client, "it feels wooden", **{"unit-kind": "shock"})


@pytest.mark.parametrize("words", ["", "hello", "<script>alert(1)</script>", "x" * 5000])
def test_words_that_say_nothing_leave_the_line_empty(client: Client, clerk: User, words: str) -> None:
    assert "Sounds like" not in line(client, words)


def test_the_page_shown_again_has_the_line(client: Client, clerk: User) -> None:
    answer = client.post(reverse("counter:book_in_look_up"), {"ticket-complaint_words": "it dives"})
    assert "Sounds like" in answer.text
    assert ">it dives</textarea>" in answer.text.replace("\n", "")


def test_it_is_for_the_counter(client: Client, clerk: User) -> None:
    assert clerk.shop is not None
    client.force_login(UserFactory(shop=clerk.shop, role="mechanic"))
    assert client.post(reverse("counter:book_in_complaints"), {}).status_code == 403


def test_the_number_of_queries_is_fixed(
    client: Client, clerk: User, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    shop = clerk.shop
    assert isinstance(shop, Shop)
    line(client, "it dives")
    with django_assert_num_queries(4):  # session, user, complaints, their tick boxes
        line(client, "it dives and feels wooden")
