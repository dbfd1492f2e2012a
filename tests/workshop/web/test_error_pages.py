"""What went wrong is said in the shop's words, also where the shop itself is broken."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client, RequestFactory
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertTemplateUsed

from tests.factories import PASSWORD, UserFactory
from workshop.shop_network.served import Served
from workshop.web import unknown_names
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


@pytest.mark.django_db
def test_a_host_that_is_not_ours_is_told_what_to_set(client: Client, caplog: pytest.LogCaptureFixture) -> None:
    unknown_names._told.clear()
    for _ in range(3):
        response = client.get(reverse("sign_in"), headers={"Host": "shop.example:8000"})
        assertContains(response, "does not know itself as “shop.example”", status_code=400)
        assertContains(response, "ALLOWED_HOSTS", status_code=400)
    told = [record.getMessage() for record in caplog.records if record.name == "workshop.names"]
    assert len(told) == 1  # once, however often
    assert "“shop.example”. If that is its name, put it into ALLOWED_HOSTS" in told[0]


@pytest.mark.django_db
@pytest.mark.parametrize("host", ["<script>alert(1)</script>", "a\nb", "x" * 5000, "[", "[::1", ""])
def test_a_host_that_is_none_is_not_repeated(client: Client, host: str) -> None:
    response = client.get(reverse("sign_in"), headers={"Host": host})
    assertContains(response, "a name that is none", status_code=400)
    assert "<script>alert" not in response.content.decode()


@pytest.mark.django_db
def test_in_the_shops_network_the_page_names_its_addresses(client: Client, settings: Any) -> None:
    settings.SHOP_NETWORK = Served(("workshop.local",), ("192.168.1.5", "workshop.local"), 8000, 8080, "")
    response = client.get(reverse("sign_in"), headers={"Host": "shop.example"})
    for address in ("https://192.168.1.5:8000/", "https://workshop.local:8000/"):
        assertContains(response, f'<a href="{address}">{address}</a>', status_code=400)
    assertNotContains(response, "ALLOWED_HOSTS", status_code=400)


@pytest.mark.django_db
@pytest.mark.parametrize("said", ["Origin", "Referer"])
def test_a_form_from_another_origin_is_told_what_to_set(caplog: pytest.LogCaptureFixture, said: str) -> None:
    unknown_names._told.clear()
    client = Client(enforce_csrf_checks=True)
    client.get(reverse("sign_in"))
    sent = {"username": "x", "csrfmiddlewaretoken": client.cookies["csrftoken"].value}
    headers = {said: "https://shop.example"}
    response = client.post(reverse("sign_in"), sent, headers=headers, secure=True)
    assertTemplateUsed(response, "errors/unknown_origin.html")
    assertContains(response, "Nothing was saved. This form came from “https://shop.example”", status_code=403)
    assertContains(response, "TRUSTED_ORIGINS", status_code=403)
    assert any("put it into TRUSTED_ORIGINS" in record.getMessage() for record in caplog.records)


@pytest.mark.django_db
def test_a_form_of_ours_that_is_too_old_is_told_so_whatever_it_says_of_its_origin() -> None:
    client = Client(enforce_csrf_checks=True)
    response = client.post(reverse("sign_in"), {}, headers={"Origin": "http://testserver"})
    assertTemplateUsed(response, "errors/form_expired.html")


@pytest.mark.django_db
def test_without_tls_and_without_a_proxy_the_page_says_how_to_start(client: Client, settings: Any) -> None:
    settings.BEHIND_PROXY = settings.SECURE_SSL_REDIRECT = True
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    response = client.get(reverse("sign_in"))
    assertContains(response, "serve --shop-network", status_code=400)
    assertContains(response, "serve --http", status_code=400)
    through = client.get(reverse("sign_in"), headers={"X-Forwarded-Proto": "http"})
    assert (through.status_code, through.headers["Location"]) == (301, "https://testserver/sign-in/")
    assert client.get(reverse("sign_in"), headers={"X-Forwarded-Proto": "https"}).status_code == 200
    assert client.get(reverse("health")).status_code != 400
