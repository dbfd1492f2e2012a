"""A machine whose clock is not that of the database: told before a start and on System."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import pytest
from django.db import connection, connections
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import UserFactory
from workshop.running.preflight import clock
from workshop.running.preflight.findings import Purpose, StartFinding

pytestmark = pytest.mark.django_db
among_machines = pytest.mark.skipif(connection.vendor != "postgresql", reason="a file has no clock")


def found(ahead: dt.timedelta) -> list[StartFinding]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(clock, "timezone", SimpleNamespace(now=lambda: timezone.now() + ahead))
        return list(clock.clock_beside_database(Purpose.SERVE))


@among_machines
@pytest.mark.parametrize(
    ("ahead", "words"),
    [
        (dt.timedelta(seconds=-90), "It is 90 seconds behind that of the database’s machine."),
        (dt.timedelta(minutes=-5), "It is 5 minutes behind"),
        (dt.timedelta(minutes=5), "It is 5 minutes ahead of"),
        (dt.timedelta(hours=3), "It is 3 hours ahead of"),
    ],
)
def test_how_far_and_which_way_is_said(ahead: dt.timedelta, words: str) -> None:
    (finding,) = found(ahead)
    assert words in finding.words
    assert "kept by a time server" in finding.todo
    assert not finding.stops  # the shop goes on: which of the two is wrong, nobody here knows


@pytest.mark.parametrize("ahead", [dt.timedelta(0), dt.timedelta(seconds=-20), dt.timedelta(seconds=20)])
def test_what_a_time_server_leaves_is_nothing(ahead: dt.timedelta) -> None:
    assert found(ahead) == []


@among_machines
def test_no_time_that_asking_takes_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """The database's moment lies between the two that are read here, however long it took."""
    moments = iter([timezone.now() - dt.timedelta(hours=1), timezone.now() + dt.timedelta(hours=1)])
    monkeypatch.setattr(clock, "timezone", SimpleNamespace(now=lambda: next(moments)))
    assert clock.ahead_of_database(connections["default"]) == dt.timedelta(0)


@among_machines
def test_the_owner_sees_it(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    client.force_login(UserFactory(owner=True))
    assertNotContains(client.get(reverse("office:system")), "that of the database’s machine")
    monkeypatch.setattr(clock, "ahead_of_database", lambda _: dt.timedelta(minutes=10))
    assertContains(client.get(reverse("office:system")), "It is 10 minutes ahead of that of the database’s machine")
