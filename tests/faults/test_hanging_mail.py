"""A mail server that hangs: silent, or dripping without end. Nobody waits for ever, and the letter is sent later."""

from __future__ import annotations

import contextlib
import select
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from email.message import EmailMessage
from typing import Any

import pytest

from tests.factories import ShopFactory
from tests.faults.table import Tell
from workshop.reminders import mail_server, punctual_mail
from workshop.reminders.delivery import MailServer, NotNow
from workshop.reminders.mail_server import MailRefused, MailServerAt, send_test_letter

pytestmark = pytest.mark.any_database

SOON_S = 0.5


@contextmanager
def hanging(talk: Callable[[socket.socket, threading.Event], None]) -> Iterator[int]:
    """The port of a server that takes every connection, and then only does what `talk` does."""
    over = threading.Event()

    def accept(listening: socket.socket) -> None:
        while not over.is_set():
            if select.select([listening], [], [], 0.05)[0]:
                line, _ = listening.accept()
                with line, contextlib.suppress(OSError):
                    talk(line, over)

    with socket.create_server(("127.0.0.1", 0)) as listening:
        thread = threading.Thread(target=accept, args=(listening,))
        thread.start()
        try:
            yield listening.getsockname()[1]
        finally:
            over.set()
            thread.join(timeout=60)


def says_nothing(line: socket.socket, over: threading.Event) -> None:
    while not over.wait(0.05):
        if select.select([line], [], [], 0)[0] and not line.recv(1024):
            return


def never_ends_a_line(line: socket.socket, over: threading.Event) -> None:
    while not over.wait(0.05):
        line.sendall(b"2")


def never_ends_its_lines(line: socket.socket, over: threading.Event) -> None:
    while not over.wait(0.05):
        line.sendall(b"220-wait\r\n")


@pytest.fixture(params=[says_nothing, never_ends_a_line, never_ends_its_lines], ids=lambda talk: talk.__name__)
def port(request: pytest.FixtureRequest, settings: Any, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """Of a server that hangs in one of these ways, with little patience on our side."""
    monkeypatch.setattr(punctual_mail.PunctualSMTP, "within_s", SOON_S)
    monkeypatch.setattr(mail_server, "WITHIN_S", SOON_S)
    with hanging(request.param) as port:
        settings.EMAIL_BACKEND = "workshop.reminders.punctual_mail.PunctualBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, SOON_S
        settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
        yield port


def test_what_is_sent_gives_up_and_waits(port: int, told: Tell) -> None:
    server = MailServer()
    with pytest.raises(NotNow, match="The mail server cannot be reached") as raised:
        server.open()
    server.close()
    told("a mail server that hangs while reminders go out", words=str(raised.value))


@pytest.mark.django_db
def test_the_test_letter_gives_up_in_words(port: int, told: Tell) -> None:
    letter = EmailMessage()
    letter["From"] = letter["To"] = f"shop-{ShopFactory().pk}@example.org"
    with pytest.raises(MailRefused) as raised:
        send_test_letter(MailServerAt("127.0.0.1", port, "none", "", ""), letter)
    assert "did not answer within" in str(raised.value)
    told("a mail server that hangs at the test letter", words=str(raised.value))
