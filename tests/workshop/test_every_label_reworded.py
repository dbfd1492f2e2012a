"""Whatever things are called, the shop does the same: screens, figures, exports, erasing, with nonsense for words."""

from __future__ import annotations

import csv
import difflib
import html
import io
import json
import re
import shutil
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.db import transaction
from django.db.models import Model
from django.test import Client
from django.urls import reverse

from tests.full_shop import FullShop, full_shop
from tests.reworded import every_label_reworded
from tests.squeezed import squeezed
from tests.workshop.test_every_screen import SENT_TOO
from tests.workshop.test_who_may_enter import ASKS_WHICH, LEAST_SENT, arguments, the_table, undone
from workshop.customers.privacy_models import Erasure
from workshop.kept.models import UnitChanged
from workshop.models import Customer, Ticket
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import gather_person

pytestmark = pytest.mark.django_db
READ = ("text/html", "text/csv", "text/calendar", "application/json", "image/svg+xml")
# What each answer makes anew.
_ANEW = re.compile(
    r"\b[A-Za-z0-9]{64}\b|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}"  # tokens and ids of forms
    r"|data-now=\S*?\d+|data-timer-left>\s*\d+:\d+"
)
ASKS_FOR_A_SECRET = {"second_factor", "customer:make_link"}  # another one each time, and a picture of it


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> FullShop:
    """On a disk that nobody else fills or empties meanwhile: the owner's page says what is free. A minute that goes by
    between two looks at a page is not noted: it says when somebody was there last.
    """
    monkeypatch.setattr("workshop.web.middleware.note_seen", lambda request: None)
    usage = shutil.disk_usage(settings.DATA_DIR)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage)
    return full_shop("Aldermoor")


def text_of(response: Any) -> str:
    """Without what is made anew, in small letters; also of an answer that streams.

    A table is read as its cells: a label with a comma in it stands in quotes there, other words for it do not.
    """
    said = b"".join(response).decode()
    if response.headers.get("Content-Type", "").startswith("text/csv"):
        said = "\n".join(" ; ".join(row) for row in csv.reader(io.StringIO(said, newline="")))
    return squeezed(html.unescape(_ANEW.sub("", said))).casefold()


@pytest.mark.any_database  # every address is opened and sent on both in words that are read
@pytest.mark.parametrize(("method", "least_compared"), [("get", 100), ("post", 100)])
def test_every_screen_says_the_same_in_other_words(shop: FullShop, method: str, least_compared: int) -> None:
    owner, customer = Client(), Client()
    owner.force_login(shop.owner)
    customer.get(reverse("customer:page", args=[shop.secret]))
    asked: list[tuple[str, Client, str, dict[str, Any], int, str]] = []
    for name, row in the_table().items():
        who = row[method]
        if who == "-" or name in ASKS_WHICH | ASKS_FOR_A_SECRET:
            continue
        sent = {field: shop.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
        sent |= SENT_TOO.get(name, {})
        address = reverse(name, kwargs=arguments(shop, name, holds_link=who == "link"))
        client = customer if who in {"anyone", "link"} else owner
        before = undone(client, method, address, sent)
        if before.headers.get("Content-Type", "").startswith(READ):
            asked.append((name, client, address, sent, before.status_code, text_of(before)))
    differs, reworded = [], 0
    with every_label_reworded() as nonsense:
        for name, client, address, sent, status, in_own_words in asked:
            after = undone(client, method, address, sent)
            said = text_of(after)
            meant = nonsense.undone(said)
            reworded += said != meant
            if after.status_code != status or meant != in_own_words:
                differs.append(f"{name}: {status}, {after.status_code}\n{_difference(in_own_words, meant)}")
    assert not differs, "\n\n".join(differs)
    assert len(asked) > least_compared
    assert reworded > least_compared / 2


def stored() -> dict[str, list[dict[str, Any]]]:
    """Every row of every table of ours; of an erasure and of what it notes down, not when and as which it was made."""
    made_by_it: dict[type[Model], set[str]] = {
        Erasure: {"id", "at"},
        UnitChanged: {"id"},
    }  # a number that was given out is not given again
    rows = {}
    for model in apps.get_models(include_auto_created=True):
        if model._meta.app_label in {"specs", "diagnosis", "workshop"}:
            fields = [field.attname for field in model._meta.concrete_fields]
            kept = [name for name in fields if name not in made_by_it.get(model, set())]
            rows[model._meta.label] = list(model._default_manager.order_by("pk").values(*kept))
    return rows


def exported(customer: Customer) -> str:
    return json.dumps(gather_person(customer) | {"made_at": ""}, default=str).casefold()


def test_a_person_is_erased_and_exported_alike(shop: FullShop) -> None:
    customer = shop.ticket.customer
    Ticket.objects.update(state=Ticket.State.HANDED_BACK, waiting_for="")
    in_own_words = exported(customer)
    with transaction.atomic():
        erase_customer(customer=customer, by=shop.owner, with_photos=True)
        erased = stored()
        transaction.set_rollback(True)
    with every_label_reworded() as nonsense:
        assert nonsense.undone(exported(customer)) == in_own_words
        erase_customer(customer=customer, by=shop.owner, with_photos=True)
    assert stored() == erased


def _difference(before: str, after: str) -> str:
    was, now = (re.sub(r"([>;,])", r"\1\n", text).splitlines() for text in (before, after))
    return "\n".join(list(difflib.unified_diff(was, now, lineterm="", n=1))[:20])
