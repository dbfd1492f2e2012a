"""Every address asks for a login and names its roles, unless it stands in a short list here."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pytest_django.asserts import assertContains, assertTemplateUsed

from tests.factories import UserFactory

# A customer has no login: the secret or the signature in the address opens these, see test_customer_page.py.
OPENED_BY_A_LINK = {f"customer:{name}" for name in ("page", "report", "photo", "say_hours", "send_tracks", "stop")}
OPENED_BY_A_LINK |= {"customer:estimate", "customer:answer_estimate"}
# Who is not signed in may use these, and no others.
OPEN_TO_ALL = {"sign_in", "sign_out"} | OPENED_BY_A_LINK
# A customer's link opens these to whoever holds its secret, and to no others.
BY_SECRET = {f"customer:{name}" for name in ("page", "report", "photo", "say_hours", "send_tracks", "stop")}
# Everybody who is signed in may use these, whatever their role.
FOR_EVERY_ROLE = OPEN_TO_ALL | BY_SECRET | {"change_password"}

_EXAMPLES = {
    "IntConverter": 1,
    "StringConverter": "x",
    "SlugConverter": "x",
    "PathConverter": "x",
    "UUIDConverter": "7f2c4f1e-30a4-4a6c-9f6d-3b7f5f0a9f10",
}


def every_route(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[tuple[str, URLPattern, str]]:
    """Name with namespace, pattern, and an example address of each route."""
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{prefix}{pattern.namespace}:" if pattern.namespace else prefix
            yield from every_route(pattern, inner)
        else:
            converters = pattern.pattern.converters
            example = {key: _EXAMPLES[type(converter).__name__] for key, converter in converters.items()}
            name = f"{prefix}{pattern.name}"
            yield name, pattern, reverse(name, kwargs=example)


ROUTES = {name: (pattern, address) for name, pattern, address in every_route()}


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(set(ROUTES) - OPEN_TO_ALL - BY_SECRET))
def test_nobody_enters_without_signing_in(client: Client, name: str) -> None:
    address = ROUTES[name][1]
    response = client.get(address)
    assert response.status_code == 302
    assert response.url.startswith(reverse("sign_in"))
    assert client.get(address, headers={"HX-Request": "true"}).status_code == 401
    assert client.post(address).status_code == 401


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(BY_SECRET))
def test_a_secret_nobody_was_given_opens_nothing(client: Client, name: str) -> None:
    address = ROUTES[name][1]
    assert {client.get(address).status_code, client.post(address).status_code} <= {404, 405}
    client.force_login(UserFactory(owner=True))
    assert {client.get(address).status_code, client.post(address).status_code} <= {404, 405}


@pytest.mark.parametrize("name", sorted(set(ROUTES) - FOR_EVERY_ROLE))
def test_every_view_names_its_roles(name: str) -> None:
    assert ROUTES[name][0].callback.roles <= {"counter", "mechanic", "owner"}


@pytest.mark.django_db
def test_a_role_that_may_not_is_told_so(client: Client) -> None:
    client.force_login(UserFactory(mechanic=True))
    response = client.get(reverse("office:overview"))
    assertContains(response, "That is not for your role", status_code=403)


@pytest.mark.django_db
def test_staff_without_a_shop_enters_nowhere(client: Client) -> None:
    client.force_login(UserFactory(shop=None, owner=True))
    assert client.get(reverse("office:overview")).status_code == 403


@pytest.mark.django_db
def test_a_form_sent_after_the_session_ended_says_what_to_do(client: Client) -> None:
    response = client.post(reverse("counter:today"))
    assert response.status_code == 401
    assertTemplateUsed(response, "errors/signed_out.html")


@pytest.mark.django_db
def test_an_htmx_request_after_the_session_ended_gets_words_and_no_page(client: Client) -> None:
    response = client.get(reverse("counter:today"), headers={"HX-Request": "true"})
    assert response.status_code == 401
    assert response.content == b"Signed out. Sign in again in another tab, then repeat."
