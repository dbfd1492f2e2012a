"""The address for the proxy says whether the shop answers, and nothing else."""

from __future__ import annotations

import os
from pathlib import Path
from time import monotonic
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client
from pytest_django.asserts import assertContains

from workshop.running import health, seen_serving
from workshop.running.health import NEW_LOOK_AFTER_S


@pytest.mark.django_db
def test_a_shop_that_answers(client: Client) -> None:
    response = client.get("/health")
    assert (response.status_code, response.content) == (200, b"ready\n")
    assert "no-store" in response["Cache-Control"]
    assert not response.cookies
    assert client.head("/health").status_code == 200
    assert client.post("/health").status_code == 405


@pytest.mark.django_db
def test_it_answers_the_proxy_over_plain_http(client: Client, settings: object) -> None:
    settings.SECURE_SSL_REDIRECT = True  # type: ignore[attr-defined]
    assert client.get("/health").status_code == 200
    assert client.get("/sign-in/").status_code == 301


@pytest.mark.django_db
def test_alive_is_less_than_ready(client: Client, settings: object) -> None:
    settings.SECURE_SSL_REDIRECT = True  # type: ignore[attr-defined]
    response = client.get("/live")
    assert (response.status_code, response.content) == (200, b"live\n")
    assert client.head("/live").status_code == 200
    assert client.post("/live").status_code in {301, 405}


def test_a_database_that_is_away(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    class Away:
        def cursor(self) -> None:
            raise OperationalError("connection refused at 10.0.0.7")

    monkeypatch.setattr(health, "connection", Away())
    response = client.get("/health")
    assert (response.status_code, response.content) == (503, b"not ready\n")
    assert client.get("/live").status_code == 200  # starting this anew would not bring the database back
    response = client.get("/ready")
    assert (response.status_code, response.content) == (503, b"not ready: the database does not answer\n")


def test_what_it_says_on_purpose_is_no_error_of_the_shop(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A proxy asks every few seconds: for an hour it would fill the list of errors on System."""
    monkeypatch.setattr(health, "_database_away", lambda: True)
    assert [client.get(address).status_code for address in ("/health", "/ready")] == [503, 503]
    assert caplog.records == []


@pytest.fixture
def files(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of files, at which nobody looked yet."""
    monkeypatch.setattr(health, "_looked", {})
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path / "files"


@pytest.mark.django_db
class TestReady:
    def test_a_machine_that_can_take_work(self, client: Client, files: Path, settings: Any) -> None:
        settings.SECURE_SSL_REDIRECT = True
        response = client.get("/ready")
        assert (response.status_code, response.content) == (200, b"ready\n")
        assert "no-store" in response["Cache-Control"]
        assert not response.cookies
        assert client.head("/ready").status_code == 200
        assert client.post("/ready").status_code in {301, 405}
        assert list(files.iterdir()) == []  # what it tried to write is gone

    def test_one_whose_code_wants_other_tables(
        self, client: Client, files: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(health, "open_migrations", lambda _: ["workshop 0999_next"])
        response = client.get("/ready")
        words = b"not ready: migrations of this code that the database does not have: 1\n"
        assert (response.status_code, response.content) == (503, words)
        assert client.get("/health").status_code == 200

    def test_one_whose_shop_another_machine_restores(
        self, client: Client, files: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
    ) -> None:
        monkeypatch.setattr(seen_serving._seen, "kept_out", True)
        response = client.get("/ready")
        words = b"not ready: another machine restores or upgrades the shop\n"
        assert (response.status_code, response.content) == (503, words)
        assert client.get("/health").status_code == 200
        assertContains(client.get("/sign-in/"), "The shop is being restored or upgraded", status_code=503)
        assert caplog.records == []

    def test_one_whose_folder_is_no_folder_until_it_is(
        self, client: Client, files: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        files.write_text("in its place")
        response = client.get("/ready")
        words = b"not ready: photos and papers cannot be written (File exists)\n"
        assert (response.status_code, response.content) == (503, words)
        assert client.get("/health").status_code == 200
        os.unlink(files)
        assert client.get("/ready").status_code == 503  # it looks again after a while
        later = monotonic() + NEW_LOOK_AFTER_S
        monkeypatch.setattr(health, "monotonic", lambda: later)
        assert client.get("/ready").status_code == 200
