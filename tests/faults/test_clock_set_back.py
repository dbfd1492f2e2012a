"""The clock of the shop's computer set back: every page opens, and every form is taken or refused in words."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.addresses import parts_of
from tests.full_shop import FullShop
from tests.workshop.test_hostile_input import found_forms, owner, shop
from tests.workshop.test_who_may_enter import the_table, undone

__all__ = ["owner", "shop"]


@pytest.mark.django_db
@pytest.mark.parametrize(
    "back",
    [pytest.param(dt.timedelta(hours=3), marks=pytest.mark.any_database), dt.timedelta(days=400)],
    ids=["3:00:00", "400 days"],
)
def test_a_clock_set_back_breaks_no_page_and_no_form(
    owner: Client, shop: FullShop, monkeypatch: pytest.MonkeyPatch, back: dt.timedelta
) -> None:
    forms = [one for one in found_forms(owner, shop) if one[0] != "sign_out"]
    real = timezone.now
    monkeypatch.setattr(timezone, "now", lambda: real() - back)
    for name, row in the_table().items():
        if row["get"] != "-":
            sender = Client() if row["get"] in {"link", "anyone"} else owner
            address = reverse(name, kwargs=shop.arguments(name, parts_of(name)))
            assert undone(sender, "get", address).status_code < 500, name
    taken = set()
    for route, method, address, form, sender in forms:
        status = undone(sender, method, address, form.filled()).status_code
        assert status < 500, route
        taken |= {route} if status in {200, 302} else set()
    assert {"stores:receive", "stores:count"} <= taken, sorted(taken)
