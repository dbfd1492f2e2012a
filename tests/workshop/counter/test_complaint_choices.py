"""The complaints to tick at booking: by kind of unit, what the shop sees often first."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from diagnosis.models import Complaint
from specs.models import SuspensionModel
from tests.factories import ComplaintFactory, SuspensionModelFactory, TicketFactory, UserFactory
from workshop.counter.complaint_choices import LATEST, complaint_groups, how_often
from workshop.counter.ticket_forms import AgreementForm
from workshop.models import Shop, User

pytestmark = pytest.mark.django_db


@pytest.fixture
def clerk(client: Client) -> User:
    made: User = UserFactory()
    client.force_login(made)
    return made


@pytest.fixture
def shop(clerk: User) -> Shop:
    assert clerk.shop is not None
    return clerk.shop


@pytest.fixture
def complaints(db: None) -> dict[str, Complaint]:
    kinds = {"dives": ["fork"], "creaks": ["fork"], "knocks": ["shock"], "smells": ["fork", "shock"]}
    return {
        title: ComplaintFactory(title=title, suits=suits, position=place)
        for place, (title, suits) in enumerate(kinds.items())
    }


def titles(form: AgreementForm, shop: Shop, kind: str = "") -> dict[str, list[str]]:
    groups = complaint_groups(form, how_often(shop), kind=kind)
    return {group.label: [box.choice_label for box in group.boxes] for group in groups}


def test_a_fork_has_its_own_and_so_has_a_shock(shop: Shop, complaints: dict[str, Complaint]) -> None:
    assert titles(AgreementForm(), shop) == {
        "Of a fork": ["dives", "creaks"],
        "Of a rear shock": ["knocks"],
        "Of either": ["smells"],
    }


def test_what_the_shop_sees_often_stands_first(shop: Shop, complaints: dict[str, Complaint]) -> None:
    for _ in range(2):
        TicketFactory(shop=shop).complaints.add(complaints["creaks"])
    TicketFactory(shop=shop).complaints.add(complaints["dives"])
    for _ in range(3):
        TicketFactory().complaints.add(complaints["dives"])  # of another shop
    assert titles(AgreementForm(), shop)["Of a fork"] == ["creaks", "dives"]


def test_only_the_latest_tickets_are_asked(
    shop: Shop, complaints: dict[str, Complaint], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert LATEST >= 100
    monkeypatch.setattr("workshop.counter.complaint_choices.LATEST", 1)
    for title in ("dives", "creaks"):
        TicketFactory(shop=shop).complaints.add(complaints[title])
    assert titles(AgreementForm(), shop)["Of a fork"] == ["creaks", "dives"]


def test_a_unit_that_is_known_is_offered_its_kind_and_what_is_ticked(
    shop: Shop, complaints: dict[str, Complaint]
) -> None:
    assert titles(AgreementForm(), shop, "shock") == {"Of a rear shock": ["knocks"], "Of either": ["smells"]}
    ticked = AgreementForm(initial={"complaints": [complaints["dives"].pk]})
    assert titles(ticked, shop, "shock")["Of a fork"] == ["dives"]


def test_what_was_agreed_is_changed_among_those_of_its_kind(
    client: Client, shop: Shop, complaints: dict[str, Complaint]
) -> None:
    ticket = TicketFactory(shop=shop, unit__kind="shock", unit__model=SuspensionModelFactory(shock=True))
    page = client.get(reverse("counter:edit_agreement", args=[ticket.number])).content.decode()
    assert "knocks" in page
    assert "creaks" not in page


def test_a_refused_complaint_says_so_beside_the_boxes(client: Client, clerk: User) -> None:
    page = client.post(reverse("counter:book_in"), {"ticket-complaints": ["999999"]}).content.decode()
    assert "not in the list" in page
    assert "_error" in page


def test_a_shock_chosen_from_the_list_of_models_is_heard_as_one(client: Client, clerk: User) -> None:
    ComplaintFactory(title="Stuck down", suits=["shock"], symptoms=["stuck down and short"])
    ComplaintFactory(title="Fork low", suits=["fork"], symptoms=["stuck down and short"])
    model: SuspensionModel = SuspensionModelFactory(shock=True)
    sent = {"ticket-complaint_words": "stuck down and short", "unit-kind": "fork", "unit-model": str(model.pk)}
    line = client.post(reverse("counter:book_in_complaints"), sent).content.decode()
    assert "stuck down" in line
    assert "fork low" not in line


def test_the_boxes_cost_two_queries_however_many(
    shop: Shop, complaints: dict[str, Complaint], django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    ComplaintFactory.create_batch(20)
    with django_assert_num_queries(2):
        titles(AgreementForm(), shop)
