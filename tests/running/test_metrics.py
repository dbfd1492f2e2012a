"""The counts for a monitoring system: who gets them, and that nothing somebody typed is in them."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.test import Client
from django.urls import reverse

from tests.addresses import ROUTES
from tests.full_shop import FullShop, full_shop
from tests.workshop.reminders.test_reminders_sending import database_url
from workshop.running.metrics import COUNTED_IN, counting_environment

TOKEN = "a-token-of-twenty-letters"  # noqa: S105  opens nothing
# A server with the setting: asks what it is told, and answers with the last page, or whether the library was loaded.
SERVER = """
import json, sys
import django
django.setup()
from django.conf import settings
from django.test.utils import setup_test_environment
setup_test_environment()
settings.STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
from django.test import Client
from workshop.models import User
client, last = Client(raise_request_exception=False), None
for method, address, person, token in json.loads(sys.argv[1]):
    if person:
        client.force_login(User.objects.get(pk=person))
    else:
        client.logout()
    last = client.generic(method, address, secure=True, headers={"Authorization": token} if token else {})
print(json.dumps([last.status_code, last.content.decode(), "django_prometheus" in sys.modules]))
"""
Asked = tuple[str, str, int, str]
COUNTS: Asked = ("GET", "/metrics", 0, f"Bearer {TOKEN}")


def asked(*requests: Asked, token: str = TOKEN, **environment: str) -> tuple[int, str, bool]:
    done = subprocess.run(
        [sys.executable, "-c", SERVER, json.dumps(requests)],
        env={**os.environ, "DATABASE_URL": database_url(), "METRICS_TOKEN": token, **environment},
        cwd=django_settings.BASE_DIR, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    status, page, loaded = json.loads(done.stdout.splitlines()[-1])
    return status, page, loaded


@pytest.mark.django_db(transaction=True)
class TestWhoGetsThem:
    @pytest.mark.parametrize("token", ["", f"Bearer {TOKEN}x", f"Bearer {TOKEN[:-1]}", f"Basic {TOKEN}", TOKEN])
    def test_who_does_not_send_the_token_finds_no_such_page(self, token: str) -> None:
        status, page, _ = asked(("GET", "/metrics", 0, token))
        assert status == 404
        assert "django_http" not in page

    def test_who_sends_it_gets_them_and_may_only_look(self) -> None:
        status, page, _ = asked(("GET", "/live", 0, ""), COUNTS)
        assert status == 200
        assert 'status="200",view="live"' in page
        assert asked(("POST", "/metrics", 0, f"Bearer {TOKEN}"))[0] in {403, 405}

    def test_without_the_setting_there_is_no_such_page_and_nothing_is_loaded(self) -> None:
        status, _, loaded = asked(COUNTS, token="")
        assert (status, loaded) == (404, False)


@pytest.mark.django_db(transaction=True)
def test_no_label_holds_what_somebody_typed() -> None:
    shop: FullShop = full_shop("Aldermoor")
    owner = shop.owner.pk
    made_up: list[Asked] = [
        ("GET", reverse("customer:page", args=[shop.secret]), 0, ""),
        ("GET", f"{reverse('counter:search')}?q={shop.mark}", owner, ""),
        ("GET", reverse("counter:ticket", args=[shop.ticket.number]), owner, ""),
        ("GET", "/office/", owner, ""),
        ("GET", "/ODILE-NOVAK/", 0, ""),
        ("ODILENOVAK", "/sign-in/", 0, ""),
    ]
    status, page, _ = asked(*made_up, COUNTS)
    assert status == 200
    for word in (shop.mark, shop.secret, "odile", shop.owner.username, shop.shop.name):
        assert word.lower() not in page.lower(), word
    assert set(re.findall(r'view="([^"]*)"', page)) <= {*ROUTES, "metrics", "<unnamed view>"}
    assert 'view="counter:ticket"' in page
    assert 'method="<invalid method>"' in page
    labels = set(re.findall(r'[{,](\w+)="', page))
    assert labels <= {"view", "method", "status", "transport", "charset", "templatename", "type", "le",
                      "implementation", "major", "minor", "patchlevel", "version", "generation"}  # fmt: skip


@pytest.mark.django_db(transaction=True)
def test_what_several_processes_counted_is_summed(tmp_path: Path) -> None:
    together = {COUNTED_IN: str(tmp_path)}
    for _ in range(2):
        asked(("GET", "/live", 0, ""), **together)
    _, page, _ = asked(("GET", "/live", 0, ""), COUNTS, **together)
    counter = "django_http_responses_total_by_status_view_method_total"
    (count,) = re.findall(rf'^{counter}\{{.*view="live"\}} (\S+)$', page, re.M)
    assert float(count) == 3


def test_a_server_begins_with_none(settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR, settings.METRICS_TOKEN = tmp_path, ""
    assert counting_environment() == {}
    settings.METRICS_TOKEN = TOKEN
    (tmp_path / "counts").mkdir()
    (tmp_path / "counts" / "counter_1.db").touch()
    assert counting_environment() == {COUNTED_IN: str(tmp_path / "counts")}
    assert list((tmp_path / "counts").iterdir()) == []


@pytest.mark.parametrize(
    ("token", "hidden", "words"), [("short", False, "20 letters"), (TOKEN, True, "-r .requirements/metrics.lock")]
)
def test_a_setting_that_cannot_be_is_told_in_words(token: str, hidden: bool, words: str) -> None:
    hide = "import importlib.util as u; f = u.find_spec\n"
    hide += "u.find_spec = lambda name, *more: None if 'prometheus' in name else f(name, *more)\n"
    done = subprocess.run(
        [sys.executable, "-c", f"{hide if hidden else ''}import workshop.settings"],
        env={**os.environ, "METRICS_TOKEN": token}, cwd=django_settings.BASE_DIR, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert words in done.stderr


@pytest.mark.django_db
def test_here_it_is_off(client: Client) -> None:
    assert client.get("/metrics", headers={"Authorization": f"Bearer {TOKEN}"}).status_code == 404
