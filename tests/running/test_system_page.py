"""The owner's page about the system: what stands well, and what wants doing."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import ShopFactory, UserFactory
from tests.known import known
from workshop import pdf_libraries
from workshop.models import Photo, Ticket
from workshop.running import second_place
from workshop.running.backup import make_backup
from workshop.running.backup_record import BackupOutcome, keep_outcome
from workshop.running.keeping import name_of
from workshop.running.page_check import PageCheck
from workshop.running.standing import standing_of_system
from workshop.running.whole_check import keep_check


@pytest.fixture
def owner(client: Client, shop: Ticket) -> Client:
    client.force_login(UserFactory(shop=shop.shop, owner=True))
    return client


def page(client: Client) -> Any:
    return client.get(reverse("office:system"))


def todo_of(shop: Ticket, label: str) -> str:
    standing = standing_of_system(shop.shop, timezone.now())
    return next(fact.todo for fact in standing.facts if fact.label == label)


class Usage(NamedTuple):
    total: int
    used: int
    free: int


def test_all_is_well(owner: Client, shop: Ticket, settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda path: Usage(100 << 30, 50 << 30, 50 << 30))
    monkeypatch.setattr(second_place, "_device", lambda path: path)  # folders on disks of their own
    monkeypatch.setattr("workshop.running.preflight.clock.NO_EARLIER_THAN", dt.date(2020, 1, 1))
    made = make_backup(folder=Path(settings.BACKUP_DIR))
    keep_outcome("test", BackupOutcome(timezone.now(), ok=True, words="All of it", backup=made.path.name))
    response = page(owner)
    assertContains(response, "Nothing wants seeing to")
    assertContains(response, "Just now")
    assertContains(response, "Photos and documents")


def test_without_a_backup_it_says_so(owner: Client) -> None:
    assertContains(page(owner), "There is no backup in the backup folder")


def test_an_old_backup_and_one_that_cannot_be_read(shop: Ticket, settings: Any) -> None:
    folder = Path(settings.BACKUP_DIR)
    made = make_backup(folder=folder)
    made.path.rename(folder / name_of(timezone.now() - dt.timedelta(days=3)))
    assert "too old" in todo_of(shop, "Last backup")
    (folder / name_of(timezone.now())).write_text("not a backup")
    assert "cannot be read" in todo_of(shop, "Last backup")


def test_a_disk_that_is_nearly_full(shop: Ticket, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda path: Usage(100 << 30, 99 << 30, 1 << 30))
    assert "Make room" in todo_of(shop, "Free on the disk")


def test_missing_libraries_are_named(shop: Ticket, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf_libraries, "missing_packages", lambda: ["libpango-1.0-0"])
    assert "libpango-1.0-0" in todo_of(shop, "PDFs")


def test_a_photo_that_is_gone(shop: Ticket) -> None:
    photo = Photo.objects.get()
    photo.file.storage.delete(known(photo.file.name))
    assert "newest photo" in todo_of(shop, "Photos and documents")


def test_the_last_errors_are_listed(owner: Client, data_dir: Path) -> None:
    facts = {
        "at": timezone.now().isoformat(),
        "logger": "django.request",
        "route": "bench:board",
        "exception": "KeyError",
    }
    old = {**facts, "at": (timezone.now() - dt.timedelta(days=2)).isoformat(), "exception": "OldError"}
    (data_dir / "errors.jsonl").write_text(json.dumps(old) + "\n" + json.dumps(facts) + "\n")
    response = page(owner)
    assertContains(response, "bench:board")
    assertContains(response, "KeyError")
    assertNotContains(response, "OldError")


def test_an_owner_sees_what_broke_in_his_own_shop_or_in_none(owner: Client, shop: Ticket, data_dir: Path) -> None:
    other = ShopFactory()
    now = timezone.now().isoformat()
    lines = [
        {"at": now, "logger": "django.request", "route": route, "exception": "KeyError"} | of
        for route, of in (
            ("bench:board", {"shop": shop.shop_id}),
            ("counter:search", {"shop": other.pk}),
            ("sign_in", {}),
        )
    ]
    (data_dir / "errors.jsonl").write_text("".join(json.dumps(line) + "\n" for line in lines))
    response = page(owner)
    assert {error["route"] for error in response.context["standing"].errors} == {"bench:board", "sign_in"}
    assertNotContains(response, "counter:search")


def test_what_was_found_in_the_database_is_told_until_it_is_found_no_more(owner: Client, shop: Ticket) -> None:
    keep_check("pages", PageCheck(("row 3 missing from index",)), [])
    assertContains(page(owner), "Pages of the database are damaged: row 3 missing from index")
    assertContains(owner.get(reverse("office:overview")), "Pages of it are damaged")
    keep_check("whole", PageCheck(), ["3 tickets are searched by other words than they have."])
    keep_check("pages", PageCheck(), [])
    assertContains(page(owner), "3 tickets are searched by other words")
    assertContains(owner.get(reverse("office:overview")), "does not agree with the rest")
    keep_check("whole", PageCheck(), [])
    assertNotContains(page(owner), "3 tickets are searched by other words")
    assertNotContains(owner.get(reverse("office:overview")), "does not agree with the rest")


def test_errors_are_grouped_with_first_and_last_time(owner: Client, data_dir: Path, shop: Ticket) -> None:
    now = timezone.now()
    facts = {"logger": "django.request", "route": "bench:board", "exception": "KeyError"}
    ago = (dt.timedelta(hours=5), dt.timedelta(hours=4), dt.timedelta(minutes=3))
    lines = [json.dumps({**facts, "at": (now - back).isoformat()}) + "\n" for back in ago]
    (data_dir / "errors.jsonl").write_text("".join(lines))
    response = page(owner)
    assert [(error["count"], error["first"], error["at"]) for error in response.context["standing"].errors] == [
        (3, now - ago[0], now - ago[2])
    ]
    assertContains(response, "3 times")
    assert todo_of(shop, "Errors")
    standing = standing_of_system(shop.shop, now)
    assert next(fact.value for fact in standing.facts if fact.label == "Errors") == "3"


def test_only_the_owner_sees_it(client: Client, shop: Ticket) -> None:
    client.force_login(UserFactory(shop=shop.shop))
    assert page(client).status_code == 403


def test_the_number_of_queries_does_not_grow(owner: Client, shop: Ticket) -> None:
    with CaptureQueriesContext(
        connection,
    ) as few:
        page(owner)
    photo = Photo.objects.get()
    for number in range(5):
        Photo.objects.create(
            ticket=shop, file=photo.file.name, thumbnail=photo.thumbnail.name, width=1, height=1,
            digest=f"{number:064x}", at=timezone.now(),
        )  # fmt: skip
    with CaptureQueriesContext(connection) as many:
        page(owner)
    assert len(many) == len(few) <= 30
