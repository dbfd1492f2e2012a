"""Sending: each message once, whatever happens to the sender on the way."""

from __future__ import annotations

import datetime as dt
import os
import signal
import smtplib
import subprocess
import sys
from email import message_from_bytes, policy
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core import mail
from django.core.mail import EmailMessage
from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from tests.factories import ShopFactory, UserFactory
from tests.known import known
from tests.workshop.reminders.due_units import STOP_URL, due_unit, queued, row_of
from tests.workshop.test_hostile_input import THE_SAME_DATABASE
from workshop.models import Message, RemindedService, Shop
from workshop.reminders.delivery import CutOff, MailFiles, MailServer, NotNow, Refused, email_of
from workshop.reminders.letter import letter_data, letter_pdf
from workshop.reminders.opt_out import stop_reminders
from workshop.reminders.queueing import call_off, mark_message_sent, queue_reminder, send_again
from workshop.reminders.sending import CLAIM_LASTS, MOST_ATTEMPTS, release_stale_claims, send_waiting

State = Message.State


class Post:
    """A taker of messages that notes what it took, and stumbles where it is told to."""

    def __init__(self, *, stumbles: list[Exception | None] | None = None, repeat_is_harmless: bool = False) -> None:
        self.repeat_is_harmless = repeat_is_harmless
        self.stumbles = stumbles or []
        self.taken: list[EmailMessage] = []

    def open(self) -> None: ...

    def close(self) -> None: ...

    def hand_over(self, email: EmailMessage) -> None:
        problem = self.stumbles.pop(0) if self.stumbles else None
        if problem is not None:
            raise problem
        self.taken.append(email)


@pytest.fixture
def shop(db: None) -> Shop:
    return ShopFactory.create()


def test_sends_what_waits(shop: Shop) -> None:
    message = queued(due_unit(shop, email="ines@example.org"))
    assert send_waiting(shop=shop).sent == 1
    (sent,) = mail.outbox
    assert sent.to == ["ines@example.org"]
    assert sent.extra_headers["Message-ID"] == message.message_id
    assert sent.extra_headers["List-Unsubscribe"] == f"<{STOP_URL}>"
    assert STOP_URL in sent.body
    message.refresh_from_db()
    assert message.state == State.SENT
    assert message.sent_at is not None


def test_carries_a_calendar_file_that_a_library_reads(shop: Shop) -> None:
    email = email_of(queued(due_unit(shop)))
    parsed = message_from_bytes(email.message().as_bytes(), policy=policy.default)
    (attached,) = parsed.iter_attachments()
    assert attached.get_content_type() == "text/calendar"
    (event,) = Calendar.from_ical(attached.get_content()).walk("VEVENT")
    assert "Lowers service" in str(event["SUMMARY"])


def test_sent_once_however_often_it_is_asked(shop: Shop) -> None:
    queued(due_unit(shop))
    post = Post()
    for _ in range(3):
        send_waiting(shop=shop, delivery=post)
    assert len(post.taken) == 1


def test_a_few_at_a_time(shop: Shop) -> None:
    for _ in range(5):
        queued(due_unit(shop))
    assert send_waiting(shop=shop, most=2).sent == 2
    assert send_waiting(shop=shop).sent == 3


def test_letters_are_not_emailed(shop: Shop) -> None:
    queued(due_unit(shop, address="1 Weir Row"), "letter")
    assert send_waiting(shop=shop).handled == 0
    assert mail.outbox == []


def test_an_address_that_bounces_comes_back_with_its_reason(shop: Shop) -> None:
    message = queued(due_unit(shop))
    report = send_waiting(shop=shop, delivery=Post(stumbles=[Refused("550 No such mailbox")]))
    assert report.failed == 1
    message.refresh_from_db()
    assert (message.state, message.problem) == (State.FAILED, "550 No such mailbox")
    customer = known(message.customer)
    customer.email = "right@example.org"
    customer.save()
    assert send_again(message=message)
    send_waiting(shop=shop)
    assert mail.outbox[0].to == ["right@example.org"]
    assert mail.outbox[0].extra_headers["Message-ID"] == message.message_id


def test_one_that_bounces_does_not_hold_up_the_others(shop: Shop) -> None:
    for _ in range(3):
        queued(due_unit(shop))
    report = send_waiting(shop=shop, delivery=Post(stumbles=[None, Refused("no"), None]))
    assert (report.sent, report.failed) == (2, 1)


def test_a_passing_failure_is_tried_again_later_and_not_for_ever(shop: Shop) -> None:
    message = queued(due_unit(shop))
    for attempt in range(MOST_ATTEMPTS):
        Message.objects.update(not_before=None)
        report = send_waiting(shop=shop, delivery=Post(stumbles=[NotNow("450 busy")]))
        assert report.later == 1
        message.refresh_from_db()
        assert message.attempts == attempt + 1
    assert message.state == State.FAILED


def test_a_retry_waits(shop: Shop) -> None:
    message = queued(due_unit(shop))
    send_waiting(shop=shop, delivery=Post(stumbles=[NotNow("450 busy")]))
    message.refresh_from_db()
    assert message.not_before is not None
    assert message.not_before > timezone.now()
    assert send_waiting(shop=shop).handled == 0


def test_cut_off_is_never_sent_again_by_itself(shop: Shop) -> None:
    message = queued(due_unit(shop))
    send_waiting(shop=shop, delivery=Post(stumbles=[CutOff("connection lost")]))
    message.refresh_from_db()
    assert message.state == State.UNCERTAIN
    post = Post()
    send_waiting(shop=shop, delivery=post)
    assert post.taken == []
    assert mark_message_sent(message=message)


def test_cut_off_is_repeated_where_a_repeat_is_harmless(shop: Shop) -> None:
    queued(due_unit(shop))
    post = Post(stumbles=[CutOff("connection lost")], repeat_is_harmless=True)
    send_waiting(shop=shop, delivery=post)
    Message.objects.update(not_before=None)
    send_waiting(shop=shop, delivery=post)
    assert len(post.taken) == 1


def test_a_claim_that_ran_out_before_anything_left_is_queued_again(shop: Shop) -> None:
    message = queued(due_unit(shop))
    before = timezone.now() - CLAIM_LASTS - dt.timedelta(minutes=1)
    Message.objects.filter(pk=message.pk).update(state=State.CLAIMED, claimed_at=before)
    assert send_waiting(shop=shop).sent == 1


def test_a_fresh_claim_is_left_alone(shop: Shop) -> None:
    message = queued(due_unit(shop))
    Message.objects.filter(pk=message.pk).update(state=State.CLAIMED, claimed_at=timezone.now())
    assert send_waiting(shop=shop).handled == 0


def test_half_handed_over_is_put_before_the_owner(shop: Shop) -> None:
    message = queued(due_unit(shop))
    before = timezone.now() - CLAIM_LASTS - dt.timedelta(minutes=1)
    Message.objects.filter(pk=message.pk).update(state=State.HANDING_OVER, claimed_at=before)
    release_stale_claims(shop=shop, repeat_is_harmless=False)
    message.refresh_from_db()
    assert message.state == State.UNCERTAIN


def test_who_stops_reminders_in_between_gets_none(shop: Shop) -> None:
    message = queued(due_unit(shop))
    stop_reminders(customer=known(message.customer))
    assert send_waiting(shop=shop).handled == 0
    message.refresh_from_db()
    assert message.state == State.CALLED_OFF


def test_called_off_lets_the_service_be_told_again(shop: Shop) -> None:
    unit = due_unit(shop)
    assert call_off(message=queued(unit))
    assert not RemindedService.objects.exists()
    queued(unit)


def test_what_has_left_cannot_be_called_off(shop: Shop) -> None:
    message = queued(due_unit(shop))
    send_waiting(shop=shop)
    assert not call_off(message=message)


def test_no_header_can_be_smuggled_in(shop: Shop) -> None:
    shop.name = "Mill Yard\r\nBcc: all@example.org"
    shop.save()
    message = queued(due_unit(shop), subject="Due\r\nBcc: all@example.org")
    parsed = message_from_bytes(email_of(message).message().as_bytes(), policy=policy.default)
    assert parsed["Bcc"] is None
    assert parsed["Subject"] == "Due Bcc: all@example.org"


PIECES = (
    "a",
    " ",
    ",",
    ";",
    ":",
    '"',
    "<",
    ">",
    "\\",
    "\t",
    "\r",
    "\n",
    "\x0b",
    "\x85",
    "\u2028",
    "\u202e",
    "é",
    "x" * 80,
    "\r\nBcc: all@else.example",
    "\n\n<script>",
    "\nEND:VEVENT\nBEGIN:VEVENT",
    "=?utf-8?q?=0ABcc:?=",
    "%0ABcc:",
)
words = st.lists(st.sampled_from(PIECES), min_size=1, max_size=6).map("".join)
HEADERS = {"Content-Type", "MIME-Version", "Subject", "From", "To", "Reply-To", "Date", "Message-ID"}
EVENT = {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "LOCATION", "TRANSP"}
HEADERS |= {"List-Unsubscribe", "List-Unsubscribe-Post", "Auto-Submitted"}


def test_whatever_anybody_is_called_an_email_has_its_headers_and_its_one_recipient(shop: Shop) -> None:
    shop.email = "desk@mill-yard.example"
    row = row_of(due_unit(shop, email="odile@else.example"))

    @THE_SAME_DATABASE
    @given(words, words, words, words, words)
    def send_one(shop_name: str, address: str, customer: str, unit: str, subject: str) -> None:
        row.unit.shop.name, row.unit.shop.address, row.unit.shop.email = shop_name[:120], address, shop.email
        row.customer.name, row.unit.described_as, row.unit.model = customer[:120], unit[:120], None
        texts = {"subject": f"Due {subject}"[:150], "body": f"Hello {customer}", "stop_url": STOP_URL}
        with transaction.atomic():
            message = queue_reminder(row=row, channel="email", by=None, **texts)
            transaction.set_rollback(True)
        sent = message_from_bytes(email_of(message).message().as_bytes(), policy=policy.default)
        assert set(sent.keys()) == HEADERS
        assert [one.addr_spec for one in sent["To"].addresses] == ["odile@else.example"]
        assert [one.addr_spec for one in sent["From"].addresses] == ["desk@mill-yard.example"]
        (attached,) = sent.iter_attachments()
        (event,) = Calendar.from_ical(attached.get_content()).walk("VEVENT")
        assert set(event) <= EVENT

    send_one()


def test_smtp_answers_are_told_apart(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    email = email_of(queued(due_unit(shop)))
    answers: list[tuple[Exception, type[Exception]]] = [
        (smtplib.SMTPRecipientsRefused({"a@example.org": (550, b"no such user")}), Refused),
        (smtplib.SMTPRecipientsRefused({"a@example.org": (450, b"later")}), NotNow),
        (smtplib.SMTPDataError(554, b"spam"), Refused),
        (smtplib.SMTPSenderRefused(451, b"later", "x@example.org"), NotNow),
        (smtplib.SMTPServerDisconnected("gone"), CutOff),
        (TimeoutError("slow"), CutOff),
    ]
    for raised, expected in answers:

        def stumble(self: EmailMessage, problem: Exception = raised, **_: Any) -> int:
            raise problem

        monkeypatch.setattr(EmailMessage, "send", stumble)
        with pytest.raises(expected):
            MailServer().hand_over(email)


def test_a_server_that_is_away_counts_as_no_attempt(shop: Shop) -> None:
    class Away(Post):
        def open(self) -> None:
            raise NotNow("The mail server cannot be reached")

    message = queued(due_unit(shop))
    assert send_waiting(shop=shop, delivery=Away()).later == 1
    message.refresh_from_db()
    assert (message.state, message.attempts) == (State.QUEUED, 0)


def test_the_demo_writes_files_once_each(shop: Shop, tmp_path: Path) -> None:
    email = email_of(queued(due_unit(shop)))
    folder = MailFiles(tmp_path / "mail")
    folder.open()
    folder.hand_over(email)
    folder.hand_over(email)
    (file,) = folder.folder.iterdir()
    assert message_from_bytes(file.read_bytes())["Message-ID"] == email.extra_headers["Message-ID"]


KILLED_SENDER = """
import os, signal, sys
import django
django.setup()
from workshop.models import Shop
from workshop.reminders import delivery, sending

where, after = sys.argv[1], int(sys.argv[2])
handed_over = 0
whole = delivery.MailFiles.hand_over

def hand_over(self, email):
    global handed_over
    if handed_over == after and where == "before":
        os.kill(os.getpid(), signal.SIGKILL)
    whole(self, email)
    if handed_over == after and where == "after":
        os.kill(os.getpid(), signal.SIGKILL)
    handed_over += 1

delivery.MailFiles.hand_over = hand_over
if where == "claimed":
    claim = sending._claim_next
    def claim_and_die(shop, only=None):
        message = claim(shop, only)
        if handed_over == after:
            os.kill(os.getpid(), signal.SIGKILL)
        return message
    sending._claim_next = claim_and_die
sending.send_waiting(shop=Shop.objects.get(pk=int(sys.argv[3])))
"""


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("where", "killed_at"),
    [
        ("claimed", 0),
        ("before", 2),
        ("after", 2),
        pytest.param("before", 0, marks=pytest.mark.long),
        pytest.param("after", 0, marks=pytest.mark.long),
        pytest.param("claimed", 2, marks=pytest.mark.long),
    ],
)
def test_a_sender_killed_half_way_and_started_again_sends_each_once(where: str, killed_at: int) -> None:
    """Real processes, killed by SIGKILL: before a message leaves, after it left and before that was written down."""
    shop = ShopFactory.create(is_demo=True)
    messages = [queued(due_unit(shop)) for _ in range(4)]
    folder = Path(django_settings.DATA_DIR) / "mail"
    before = set(folder.iterdir()) if folder.exists() else set()
    killed = subprocess.run(
        [sys.executable, "-c", KILLED_SENDER, where, str(killed_at), str(shop.pk)],
        env={**os.environ, "DATABASE_URL": database_url()},
        cwd=django_settings.BASE_DIR,
        check=False,
        capture_output=True,
    )
    assert killed.returncode == -signal.SIGKILL, killed.stderr.decode()
    Message.objects.exclude(claimed_at=None).update(claimed_at=timezone.now() - CLAIM_LASTS - dt.timedelta(minutes=1))
    send_waiting(shop=shop)
    files = set(folder.iterdir()) - before
    ids = [message_from_bytes(file.read_bytes())["Message-ID"] for file in files if file.suffix == ".eml"]
    assert sorted(ids) == sorted(message.message_id for message in messages)
    assert set(Message.objects.values_list("state", flat=True)) == {State.SENT}


def database_url() -> str:
    values = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{values['NAME']}"
    return (
        f"postgres://{values['USER']}:{values['PASSWORD']}@{values['HOST']}:{values['PORT'] or 5432}/{values['NAME']}"
    )


def test_the_command_sends_and_says_how_far_it_is(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    queued(due_unit(shop))
    due_unit(shop)
    call_command("send_reminders")
    said = capsys.readouterr().out
    assert "1 of 1" in said
    assert "1 sent" in said
    assert "1 overdue" in said
    call_command("send_reminders", quiet=True)
    assert capsys.readouterr().out == ""


def test_the_owner_sends_a_batch_with_its_progress(shop: Shop) -> None:
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))
    for _ in range(7):
        queued(due_unit(shop))
    assert "7 emails wait" in client.get(reverse("office:reminders_outbox")).content.decode()
    first = client.post(reverse("office:reminders_send"), {"total": "7"}, headers={"HX-Request": "true"})
    page = first.content.decode()
    assert '<progress value="5" max="7">' in page
    assert "load delay" in page
    last = client.post(reverse("office:reminders_send"), {"total": "7"}, headers={"HX-Request": "true"})
    assert "All sent" in last.content.decode()
    assert len(mail.outbox) == 7


def test_the_outbox_takes_the_same_queries_however_full(shop: Shop, django_assert_num_queries: Any) -> None:
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))

    def queries() -> int:
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse("office:reminders_outbox")).status_code == 200
        return len(captured)

    queued(due_unit(shop))
    few = queries()
    for _ in range(6):
        queued(due_unit(shop))
    assert queries() == few


def test_a_letter_prints_what_was_approved(shop: Shop) -> None:
    message = queued(due_unit(shop, address="1 Weir Row\nUnder Beacon"), "letter", body="First.\n\nSecond.")
    data = letter_data(message)
    assert (data["address"], data["body"]) == ("1 Weir Row\nUnder Beacon", "First.\n\nSecond.")
    assert letter_pdf(message).startswith(b"%PDF")
    assert mark_message_sent(message=message)
