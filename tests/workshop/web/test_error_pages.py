"""What went wrong is said in the shop's words, also where the shop itself is broken."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse
from pytest_django.asserts import assertContains, assertTemplateUsed

from tests.factories import PASSWORD, UserFactory
from workshop.web.errors import broken


@pytest.mark.django_db
def test_an_unknown_address(client: Client) -> None:
    assertContains(client.get("/no/such/page/"), "There is nothing here", status_code=404)
    client.force_login(UserFactory())
    assertContains(client.get("/no/such/page/"), "There is nothing here", status_code=404)


@pytest.mark.django_db
def test_a_form_without_its_token_is_refused_and_says_that_nothing_was_saved() -> None:
    client = Client(enforce_csrf_checks=True)
    user = UserFactory(with_password=True)
    response = client.post(reverse("sign_in"), {"username": user.username, "password": PASSWORD})
    assertTemplateUsed(response, "errors/form_expired.html")
    assertContains(response, "Nothing was saved", status_code=403)


def test_a_broken_page_needs_neither_database_nor_session(rf: RequestFactory) -> None:
    # Without the database marker, pytest-django refuses any query.
    response = broken(rf.get("/"))
    assert response.status_code == 500
    assert "Something broke" in response.content.decode()


@pytest.mark.django_db
def test_a_view_that_breaks_answers_with_that_page(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*args: object, **kwargs: object) -> None:
        raise RuntimeError("on purpose")

    monkeypatch.setattr("workshop.sign_in.views.redirect", fails)
    client.force_login(UserFactory())
    client.raise_request_exception = False
    assertContains(client.get(reverse("home")), "Something broke", status_code=500)
