"""Machines of one database have one secret key; another is told apart by its digest, and refused at the start."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection

from tests.known import known
from workshop.models import SharedKey
from workshop.running.lives_here import note_shop
from workshop.running.preflight import shared
from workshop.running.preflight.findings import Purpose
from workshop.staff.shared_key import is_anothers_key, note_shared_key

KEY, OTHER = "a key of fifty letters and a few more, of machine one", "another key of fifty letters, of machine two"
pytestmark = pytest.mark.django_db


def on_postgresql() -> None:
    if connection.vendor == "sqlite":
        pytest.skip("a SQLite file is one machine's")


def test_the_first_key_is_noted_and_another_is_not_it() -> None:
    on_postgresql()
    assert not is_anothers_key(KEY)
    note_shared_key(KEY, anew=False)
    assert not is_anothers_key(KEY)
    assert is_anothers_key(OTHER)
    note_shared_key(OTHER, anew=False)  # as each start does
    assert is_anothers_key(OTHER)
    note_shared_key(OTHER, anew=True)
    assert not is_anothers_key(OTHER)
    assert is_anothers_key(KEY)
    assert SharedKey.objects.count() == 1


def test_nobody_has_the_key_from_the_row() -> None:
    on_postgresql()
    note_shared_key(KEY, anew=False)
    first = SharedKey.objects.get()
    SharedKey.objects.all().delete()
    note_shared_key(KEY, anew=False)
    again = SharedKey.objects.get()
    assert KEY not in (first.digest, first.salt)
    assert (first.salt, first.digest) != (again.salt, again.digest)  # the same key looks another way each time


def test_a_machine_with_another_key_is_refused_at_its_start(settings: Any) -> None:
    on_postgresql()
    settings.SECRET_KEY = KEY
    note_shop()  # machine one, also before there is a shop
    assert list(shared.key_is_shared(Purpose.SERVE)) == []
    settings.SECRET_KEY = OTHER
    (finding,) = shared.key_is_shared(Purpose.SERVE)
    assert finding.stops
    assert finding.by_choice
    assert "another than the machines of this database share" in finding.words
    assert "check_shop --accept" in finding.todo
    assert KEY not in str(finding)
    assert OTHER not in str(finding)
    assert [one.stops for one in shared.key_is_shared(Purpose.PAGE)] == [False]
    note_shop(anew=True)  # as check_shop --accept does, once the key was changed on purpose
    assert list(shared.key_is_shared(Purpose.SERVE)) == []


def test_a_shop_of_one_machine_is_asked_nothing(settings: Any) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("a file is SQLite's")
    note_shop()
    settings.SECRET_KEY = OTHER
    assert not SharedKey.objects.exists()
    assert list(shared.key_is_shared(Purpose.SERVE)) == []


def test_before_the_upgrade_that_makes_its_table_nothing_is_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    on_postgresql()
    note_shared_key(KEY, anew=False)
    monkeypatch.setattr(SharedKey._meta, "db_table", "workshop_not_made_yet")
    assert not is_anothers_key(OTHER)
    note_shared_key(OTHER, anew=True)
    monkeypatch.undo()
    assert known(SharedKey.objects.first())
    assert is_anothers_key(OTHER)
