"""Reminders over SMTP as it is spoken: a mail server on this machine that takes, refuses, and goes away half way.

aiosmtpd plays the server, Django's own SMTP backend the sender. Nothing arrives twice, nothing is lost, and the owner
is told in words what became of each message.
"""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from email import message_from_bytes, policy
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from django.conf import settings as django_settings
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar

from tests.factories import ShopFactory, UserFactory
from tests.workshop.reminders.due_units import due_unit, queued
from tests.workshop.reminders.test_reminders_sending import database_url
from workshop.models import Message, Shop
from workshop.reminders.delivery import MailServer
from workshop.reminders.sending import CLAIM_LASTS, send_waiting

State = Message.State
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:aiosmtpd")


def as_bytes(taken: Envelope) -> bytes:
    assert isinstance(taken.content, bytes)
    return taken.content


class PostOffice:
    """Takes messages and keeps them; refuses the addresses it was told of, and can go away at a chosen moment."""

    def __init__(self) -> None:
        self.taken: list[Envelope] = []
        self.refused: dict[str, str] = {}
        self.goes_away_at = ""  # "mail", "data" (before its answer) or "answer" (after it took the message)
        self.closes_the_door = False  # with it, nobody gets in again after it went away
        self.controller: Controller
        self.conversations = 0

    async def handle_EHLO(  # noqa: N802  aiosmtpd names its handlers so
        self, server: SMTP, session: Session, envelope: Envelope, hostname: str, responses: list[str]
    ) -> list[str]:
        self.conversations += 1
        session.host_name = hostname
        return responses

    async def handle_MAIL(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if self.goes_away_at == "mail":
            self._go_away(server)
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if address in self.refused:
            return self.refused[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        if self.goes_away_at == "data":
            self._go_away(server)
        self.taken.append(envelope)
        if self.goes_away_at == "answer":
            self._go_away(server)
        return "250 Taken"

    def _go_away(self, server: SMTP) -> None:
        self.goes_away_at = ""  # it comes back for the next conversation
        assert isinstance(server.transport, asyncio.WriteTransport)
        server.transport.abort()
        if self.closes_the_door:
            assert self.controller.server is not None
            self.controller.server.close()
        raise asyncio.CancelledError

    @property
    def ids(self) -> list[str]:
        return [str(message_from_bytes(as_bytes(taken), policy=policy.default)["Message-ID"]) for taken in self.taken]


@pytest.fixture
def post_office(settings: Any) -> Iterator[PostOffice]:
    """A server on a free port of this machine, set as the shop's mail server."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    office = PostOffice()
    controller = Controller(office, hostname="127.0.0.1", port=port)
    controller.start()
    office.controller = controller
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, 10
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
    yield office
    office.controller.stop()


@pytest.fixture
def shop(db: None) -> Shop:
    return ShopFactory.create()


def states() -> list[str]:
    return list(Message.objects.order_by("pk").values_list("state", flat=True))


def test_a_batch_goes_out_in_one_conversation(shop: Shop, post_office: PostOffice) -> None:
    messages = [queued(due_unit(shop, email=f"rider{n}@example.org")) for n in range(3)]
    report = send_waiting(shop=shop)
    assert (report.sent, report.handled) == (3, 3)
    assert [envelope.rcpt_tos for envelope in post_office.taken] == [[f"rider{n}@example.org"] for n in range(3)]
    assert post_office.ids == [message.message_id for message in messages]
    assert post_office.conversations == 1
    assert mail.outbox == []


def test_what_arrives_is_whole(shop: Shop, post_office: PostOffice) -> None:
    """A name beyond ASCII, a line that begins with a dot, and the calendar file, as the server got them."""
    queued(due_unit(shop, name="Þóra Åsén"), subject="Ihr Dämpfer ist fällig", body="Hello Þóra\n.\n.hidden\nBye")
    send_waiting(shop=shop)
    parsed: Any = message_from_bytes(as_bytes(post_office.taken[0]), policy=policy.default)
    assert parsed["Subject"] == "Ihr Dämpfer ist fällig"
    assert parsed.get_body().get_content().replace("\r\n", "\n").startswith("Hello Þóra\n.\n.hidden\nBye\n")
    (attached,) = parsed.iter_attachments()
    assert len(Calendar.from_ical(attached.get_content()).walk("VEVENT")) == 1
    assert parsed["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_a_refused_recipient_comes_back_and_the_others_go_out(shop: Shop, post_office: PostOffice) -> None:
    messages = [queued(due_unit(shop, email=f"rider{n}@example.org")) for n in range(3)]
    post_office.refused["rider1@example.org"] = "550 5.1.1 No such mailbox here"
    report = send_waiting(shop=shop)
    assert (report.sent, report.failed) == (2, 1)
    assert states() == [State.SENT, State.FAILED, State.SENT]
    assert messages[1].message_id not in post_office.ids
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))
    assert "550 5.1.1 No such mailbox here" in client.get(reverse("office:reminders_outbox")).content.decode()


def test_a_recipient_refused_for_now_waits_and_goes_out_later(shop: Shop, post_office: PostOffice) -> None:
    message = queued(due_unit(shop, email="rider@example.org"))
    post_office.refused["rider@example.org"] = "451 4.7.1 Greylisted, come again"
    assert send_waiting(shop=shop).later == 1
    message.refresh_from_db()
    assert (message.state, message.problem) == (State.QUEUED, "451 4.7.1 Greylisted, come again")
    post_office.refused.clear()
    assert send_waiting(shop=shop).handled == 0
    Message.objects.update(not_before=None)
    assert send_waiting(shop=shop).sent == 1
    assert post_office.ids == [message.message_id]


def test_a_server_that_is_not_there_loses_nothing(shop: Shop, post_office: PostOffice, settings: Any) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))  # nobody listens here
        there, settings.EMAIL_PORT = settings.EMAIL_PORT, taken.getsockname()[1]
        message = queued(due_unit(shop))
        assert send_waiting(shop=shop).later == 1
    message.refresh_from_db()
    assert (message.state, message.attempts) == (State.QUEUED, 0)
    assert "The mail server cannot be reached" in message.problem
    settings.EMAIL_PORT = there
    Message.objects.update(not_before=None)
    assert send_waiting(shop=shop).sent == 1


@pytest.mark.parametrize("moment", ["mail", "data", "answer"])
def test_a_server_that_goes_away_half_way_is_put_before_the_owner_and_nothing_is_sent_twice(
    shop: Shop, post_office: PostOffice, moment: str
) -> None:
    """Whether the server took it before it went cannot be known from here; the others go out all the same."""
    messages = [queued(due_unit(shop, email=f"rider{n}@example.org")) for n in range(3)]
    post_office.goes_away_at = moment
    for _ in range(3):
        send_waiting(shop=shop)
    assert states() == [State.UNCERTAIN, State.SENT, State.SENT]
    assert sorted(post_office.ids[-2:]) == sorted(message.message_id for message in messages[1:])
    assert len(post_office.ids) == len(set(post_office.ids)) == (3 if moment == "answer" else 2)
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))
    page = client.get(reverse("office:reminders_message", args=[messages[0].pk])).content.decode()
    assert "may have arrived" in page


def test_where_a_repeat_is_harmless_it_is_sent_again_under_the_same_id(
    shop: Shop, post_office: PostOffice, settings: Any
) -> None:
    settings.EMAIL_REPEAT_IS_HARMLESS = True
    message = queued(due_unit(shop))
    post_office.goes_away_at = "data"
    send_waiting(shop=shop)
    Message.objects.update(not_before=None)
    send_waiting(shop=shop)
    assert post_office.ids == [message.message_id]
    assert states() == [State.SENT]


KILLED_SENDER = """
import os, signal, sys
import django
django.setup()
from workshop.models import Shop
from workshop.reminders import sending
from workshop.reminders.delivery import MailServer

done = 0
finish = sending._finish

def finish_or_die(message, *args, **more):
    global done
    if done == int(sys.argv[2]):
        os.kill(os.getpid(), signal.SIGKILL)  # the server took it, and nobody wrote that down
    done += 1
    finish(message, *args, **more)

sending._finish = finish_or_die
sending.send_waiting(shop=Shop.objects.get(pk=int(sys.argv[1])), delivery=MailServer())
"""


@pytest.mark.django_db(transaction=True)
def test_a_sender_killed_after_the_server_took_it_sends_nothing_twice(
    transactional_db: None, post_office: PostOffice, settings: Any
) -> None:
    """A real process, killed by SIGKILL between the server's answer and the note of it."""
    shop = ShopFactory.create()
    messages = [queued(due_unit(shop, email=f"rider{n}@example.org")) for n in range(4)]
    killed = subprocess.run(
        [sys.executable, "-c", KILLED_SENDER, str(shop.pk), "1"],
        env={
            **os.environ,
            "DATABASE_URL": database_url(),
            "EMAIL_HOST": "127.0.0.1",
            "EMAIL_PORT": str(settings.EMAIL_PORT),
            "EMAIL_STARTTLS": "0",
        },
        cwd=django_settings.BASE_DIR,
        check=False,
        capture_output=True,
    )
    assert killed.returncode == -signal.SIGKILL, killed.stderr.decode()
    assert len(post_office.taken) == 2
    Message.objects.exclude(claimed_at=None).update(claimed_at=timezone.now() - CLAIM_LASTS * 2)
    send_waiting(shop=shop, delivery=MailServer())
    assert states() == [State.SENT, State.UNCERTAIN, State.SENT, State.SENT]
    assert sorted(post_office.ids) == sorted(message.message_id for message in messages)


def test_a_server_that_goes_away_for_good_leaves_the_others_waiting(
    shop: Shop, post_office: PostOffice, settings: Any
) -> None:
    """One is not known to have arrived; the rest were never tried, and wait without an attempt counted."""
    for n in range(3):
        queued(due_unit(shop, email=f"rider{n}@example.org"))
    post_office.goes_away_at = "data"
    post_office.closes_the_door = True
    report = send_waiting(shop=shop)
    assert (report.cut_off, report.later, report.sent) == (1, 2, 0)
    assert states() == [State.UNCERTAIN, State.QUEUED, State.QUEUED]
    assert set(Message.objects.filter(state=State.QUEUED).values_list("attempts", flat=True)) == {0}
    post_office.controller.stop()
    post_office.controller = Controller(post_office, hostname="127.0.0.1", port=settings.EMAIL_PORT)
    post_office.controller.start()
    Message.objects.update(not_before=None)
    assert send_waiting(shop=shop).sent == 2
