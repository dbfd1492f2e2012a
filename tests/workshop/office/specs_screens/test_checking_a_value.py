"""The checking screen: value and source side by side, one button, never for one’s own entry."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from specs.models import SpecValue, SuspensionModel
from tests.factories import (
    SpecValueFactory,
    SuspensionModelFactory,
    UserFactory,
)
from workshop.staff.models import User

pytestmark = pytest.mark.django_db


def test_a_second_person_checks_and_comes_back_to_the_list(
    as_role: Callable[[str], Client], torque: SpecValue, staff: dict[str, User]
) -> None:
    response = as_role("mechanic").post(reverse("office:specs_check", args=[torque.pk]), {"model": torque.model_id})
    assert response["Location"] == f"{reverse('office:specs_unchecked')}?model={torque.model_id}"
    torque.refresh_from_db()
    assert torque.checked_by == staff["mechanic"]


def test_with_htmx_the_line_itself_answers(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    client = as_role("mechanic")
    url = reverse("office:specs_check", args=[torque.pk])
    first = client.post(url, headers={"HX-Request": "true"})
    assert "by you, just now" in first.content.decode()
    assert "<html" not in first.content.decode()
    second = client.post(url, headers={"HX-Request": "true"})
    assert second.status_code == 409
    assert "checked already" in second.content.decode()


def test_nobody_checks_their_own_entry(
    as_role: Callable[[str], Client], plume: SuspensionModel, staff: dict[str, User]
) -> None:
    own = SpecValueFactory(model=plume, entered_by=staff["mechanic"])
    client = as_role("mechanic")
    html = client.get(reverse("office:specs_unchecked")).content.decode()
    assert "You entered it yourself" in html
    assert "I compared this with the source" not in html
    response = client.post(reverse("office:specs_check", args=[own.pk]), follow=True)
    assert "You entered it yourself" in response.content.decode()
    own.refresh_from_db()
    assert not own.is_checked


def test_the_checking_screen_shows_value_and_source_side_by_side(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    SpecValueFactory()
    client = as_role("mechanic")
    response = client.get(reverse("office:specs_unchecked"), {"model": torque.model_id})
    (line,) = response.context["lines"]
    assert (line.written.text, line.value.source_page) == ("8 N·m", "12")
    assert "I compared this with the source" in response.content.decode()
    assert len(client.get(reverse("office:specs_unchecked")).context["lines"]) == 2
    assert "I compared" not in as_role("counter").get(reverse("office:specs_unchecked")).content.decode()


@pytest.mark.parametrize("values", [10, 1000])
def test_the_checking_screen_takes_the_same_queries_for_ten_values_and_a_thousand(
    as_role: Callable[[str], Client], values: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    models = SuspensionModel.objects.bulk_create(SuspensionModelFactory.build_batch(values))
    person = UserFactory()
    SpecValue.objects.bulk_create(SpecValueFactory.build(model=model, entered_by=person) for model in models)
    client = as_role("owner")
    with django_assert_max_num_queries(6):
        assert client.get(reverse("office:specs_unchecked")).status_code == 200
