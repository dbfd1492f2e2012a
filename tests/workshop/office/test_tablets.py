"""The owner's page for a new tablet says what the terminal says."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import UserFactory
from workshop.shop_network.served import Served

pytestmark = pytest.mark.django_db
SERVED = Served(("workshop.local",), ("192.168.1.5", "workshop.local"), 8000, 8080, "AB:CD")


def test_in_the_shops_network_it_has_the_code_the_addresses_and_the_fingerprint(client: Client, settings: Any) -> None:
    settings.SHOP_NETWORK = SERVED
    client.force_login(UserFactory(owner=True))
    response = client.get(reverse("office:tablets"))
    for words in ("http://192.168.1.5:8080/", "https://192.168.1.5:8000/", "https://workshop.local:8000/", "AB:CD"):
        assertContains(response, words)
    assertContains(response, "Without it the shop does not answer")
    assertContains(response, '<div class="trust__code"><svg')


def test_elsewhere_it_says_how_to_start(client: Client, settings: Any) -> None:
    settings.SHOP_NETWORK = None
    client.force_login(UserFactory(owner=True))
    response = client.get(reverse("office:tablets"))
    assertContains(response, "serve --shop-network")
    assertNotContains(response, "trust__code")
    assertContains(client.get(reverse("office:system")), reverse("office:tablets"))
