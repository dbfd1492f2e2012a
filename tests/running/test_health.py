"""The address for the proxy says whether the shop answers, and nothing else."""

from __future__ import annotations

import pytest
from django.db import OperationalError
from django.test import Client

from workshop.running import health


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
