"""The demo's sucked-down fork from its readings to the proof: on the screen, the work order and the report."""

from __future__ import annotations

import io

import pypdf
import pytest
from django.test import Client
from django.urls import reverse

from tests.flagship import through_to_the_proof
from tests.squeezed import squeezed
from tests.sucked_down import sucked_down_ticket
from workshop.staff.models import User

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(client: Client) -> Client:
    """The sucked-down fork's mechanic, signed in."""
    sucked_down_ticket()
    client.force_login(User.objects.get(username="mechanic"))
    return client


def paper(client: Client, kind: str) -> str:
    """The text of the PDF that is issued through HTTP."""
    answer = client.post(reverse("documents:issue", args=[1, kind]), follow=True)
    assert answer["Content-Type"] == "application/pdf"
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def screen(client: Client) -> str:
    return squeezed(client.get(reverse("bench:spring", args=[1])).content.decode())


STUCK = "One person can free it at its maximum of 165 psi with about 14 kg of pull."


def test_as_it_came_in_it_reads_stuck_on_screen_work_order_and_report(shop: Client) -> None:
    order, report = paper(shop, "work_order"), paper(shop, "customer_report")
    for said in (screen(shop), order):
        assert "Stuck down: it rests 66 mm in." in said
        assert "About a quarter of the air has moved to the negative side" in said
        assert STUCK in said
        assert "If it does not come: top up to 165 psi where it stands, never above, and pull again." in said
        assert "let all the air out, prove that it is out, and take the lowers off." in said
        assert "What was not weighed is assumed (common practice, no published source)." in said
        assert "Friction 20 N is assumed as on record, not measured here." in said
    assert "About a quarter of the air in your fork had slipped into the chamber that pulls it down." in report
    assert "at its maximum of 165 psi one person frees it with about 14 kg of pull" in report
    assert "If that does not do it, the lower legs have to come off." in report
    assert "Healthy:" not in order + report


def test_after_the_proof_it_reads_healthy_everywhere_and_keeps_what_was_wrong(shop: Client) -> None:
    through_to_the_proof(shop)
    order, report = paper(shop, "work_order"), paper(shop, "customer_report")
    for said in (screen(shop), order):
        assert "Healthy: it rests 2 mm in, where a healthy one of this kind does." in said
        assert "With its chambers level at 82 psi this fork may rest up to" in said
        assert "What was wrong: it rested 66 mm in, 28 % of its air on the negative side." in said
        assert "nothing, it rests 2 mm in as a healthy one does." in said
    assert f"As it came in: Stuck down: it rests 66 mm in. {STUCK}" in order
    assert "About a quarter of the air in your fork had slipped" in report
    assert "After the work: Healthy: the fork rests 2 mm into its travel, which is normal for this kind" in report


def test_a_rest_that_was_not_proved_is_called_healthy_on_no_report(shop: Client) -> None:
    """The depth was read, the proof refused: the customer's paper says nothing of a healthy spring."""
    through_to_the_proof(shop, last="not_proved")
    assert "Healthy:" not in paper(shop, "customer_report")
