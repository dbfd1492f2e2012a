"""Neither the code's history nor methods nobody needs are served, words are decoded once, signing out is at hand."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import CustomerFactory, ShopFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "path",
    [".git/config", ".git/HEAD", ".env", "manage.py", "pyproject.toml", "workshop/settings.py", ".data/secret_key"],
)
@pytest.mark.parametrize("before", ["/", "/static/", "/static/../", "/static/%2e%2e/", "/static/css/../../"])
def test_no_file_of_the_project_is_served(client: Client, before: str, path: str) -> None:
    assert client.get(f"{before}{path}").status_code == 404


@pytest.mark.parametrize("name", ["sign_in", "home", "counter:customers", "office:privacy", "health", "live"])
def test_trace_does_nothing(client: Client, name: str) -> None:
    if name != "sign_in":
        client.force_login(UserFactory(owner=True))
    answer = client.trace(reverse(name))
    assert answer.status_code == 405
    assert b"Cookie" not in answer.content


def test_what_is_typed_is_decoded_once(client: Client) -> None:
    """%2527 is %27 written for an address: it stays three signs, and becomes no quote."""
    user = UserFactory(owner=True)
    client.force_login(user)
    CustomerFactory(shop=user.shop, name="Sign %27 Percent")
    CustomerFactory(shop=user.shop, name="Sign ' Quote")
    found = client.get(reverse("counter:customers") + "?q=Sign+%2527")
    assertContains(found, "Sign %27 Percent")
    assertNotContains(found, "Quote")


def test_only_what_a_form_offers_is_taken(client: Client) -> None:
    """Further fields change nothing, and what stands in the address is not what was sent."""
    user = UserFactory(owner=True)
    client.force_login(user)
    other = ShopFactory()
    customer = CustomerFactory(shop=user.shop, name="Ilva Sample", phone="0555 010 777")
    address = reverse("counter:change_customer", args=[customer.pk])
    page = client.get(address)
    sent = {name: page.context["form"][name].value() or "" for name in page.context["form"].fields}
    more = {"shop": other.pk, "shop_id": other.pk, "search_text": "zz", "created_by": "", "merged_into": customer.pk}
    answer = client.post(
        f"{address}?name=Of+The+Address", {**sent, **more, "name": "Ilva Typed", "seen_version": customer.version}
    )
    assert answer.status_code == 302
    customer.refresh_from_db()
    assert (customer.name, customer.shop, customer.merged_into_id) == ("Ilva Typed", user.shop, None)
    assert "ilva typed" in customer.search_text


@pytest.mark.parametrize("roles", ["owner", "counter", "mechanic"])
@pytest.mark.parametrize("name", ["counter:customers", "bench:board", "stores:stock", "change_password"])
def test_signing_out_is_on_every_page(client: Client, roles: str, name: str) -> None:
    client.force_login(UserFactory(roles=roles))
    page = client.get(reverse(name))
    if page.status_code == 200:
        assertContains(page, f'action="{reverse("sign_out")}" method="post"')
    else:
        assert page.status_code == 403
