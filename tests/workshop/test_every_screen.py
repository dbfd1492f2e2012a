"""Every screen opens: each address that answers a GET, once, in a shop with one of everything."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests.full_shop import full_shop
from tests.workshop.test_who_may_enter import ASKS_WHICH, LEAST_SENT, METHODS, arguments, the_table

ANSWERED = {200, 302}
SENT_TOO = {"office:books": {"first": "2026-01-01", "last": "2026-01-31"}}  # nothing to show without


@pytest.mark.django_db
def test_every_screen_opens() -> None:
    shop = full_shop("Aldermoor")
    owner, customer = Client(), Client()
    owner.force_login(shop.owner)
    customer.get(reverse("customer:page", args=[shop.secret]))
    fell, opened = [], 0
    for name, row in the_table().items():
        who = row[METHODS[0]]
        if who == "-" or name in ASKS_WHICH:
            continue
        sent = {field: shop.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
        sent |= SENT_TOO.get(name, {})
        address = reverse(name, kwargs=arguments(shop, name, holds_link=who == "link"))
        response = (customer if who in {"anyone", "link"} else owner).get(address, sent)
        if response.status_code not in ANSWERED:
            fell.append(f"{name}: {response.status_code}")
        elif response.status_code == 200 and response.headers["Content-Type"].startswith("text/html"):
            whole = "<!doctype" in response.text[:40].lower()
            opened += whole
            if whole and ("<h1" not in response.text or "</html>" not in response.text):
                fell.append(f"{name}: a page without a heading or an end")
    assert not fell
    assert opened > 60
