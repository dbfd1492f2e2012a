"""Handing an email over: to the mail server of the settings, or in the demo to files."""

from __future__ import annotations

import hashlib
import os
import smtplib
import tempfile
from email.utils import formataddr
from pathlib import Path
from typing import Protocol

from django.conf import settings
from django.core.mail import EmailMessage, get_connection

from workshop.reminders.models import Message
from workshop.staff.models import Shop
from workshop.web.plain_text import one_line
from workshop.web.public_address import link_as_of_now, public_address_of

NO_MAIL = "django.core.mail.backends.dummy.EmailBackend"


class Refused(Exception):
    """The server will not take this message, now or later: a wrong address, for example."""


class NotNow(Exception):
    """Nothing was handed over; trying again later may work."""


class CutOff(Exception):
    """The line broke while the message was handed over: nobody here knows whether it arrived."""


class MailDelivery(Protocol):
    """A way to hand messages over. `repeat_is_harmless`: it knows a message by its Message-ID and takes it once."""

    repeat_is_harmless: bool

    def open(self) -> None:
        """Get ready. Raises NotNow."""

    def hand_over(self, email: EmailMessage) -> None:
        """Hand one message over. Raises Refused, NotNow or CutOff."""

    def close(self) -> None:
        """Let go of the connection."""


class MailNotSetUp(Exception):
    """No email can leave this shop; the message says what is wanting. Nothing was touched."""


def why_no_mail(shop: Shop) -> str:
    """What keeps email from leaving, in words; empty where it can leave. The demo's always can: it goes to files."""
    if shop.is_demo:
        return ""
    if settings.EMAIL_BACKEND == NO_MAIL:
        return "This shop cannot send email yet: set EMAIL_HOST and its companions for the server."
    if not sender_of(shop):
        return "This shop has no address to send email from: enter its email in Office, Shop, or set EMAIL_FROM."
    if not public_address_of(shop):
        return (
            "This shop has no public address, so the link that stops reminders would not open: enter it in Office, "
            "Shop, or set PUBLIC_ADDRESS."
        )
    return ""


def mail_is_set_up(shop: Shop) -> bool:
    """Whether email can leave."""
    return not why_no_mail(shop)


def sender_of(shop: Shop) -> str:
    """The address the shop's email comes from; empty where there is none."""
    chosen = str(settings.DEFAULT_FROM_EMAIL)
    return chosen if "@" in chosen else shop.email


def delivery_for(shop: Shop) -> MailDelivery:
    """Files for the demo, whatever mail server is set; else that server."""
    return MailFiles(Path(settings.DATA_DIR) / "mail") if shop.is_demo else MailServer()


def email_of(message: Message) -> EmailMessage:
    """The email, with the calendar entry, and with the link that stops reminders in text and headers (RFC 8058)."""
    shop = message.shop
    stop_url = link_as_of_now(shop, message.stop_url)
    foot = f"The attached file puts the day into your calendar.\nNo more reminders: {stop_url}\n"
    email = EmailMessage(
        subject=_header(message.subject),
        body=f"{message.body}\n\n--\n{foot}",
        from_email=formataddr((_header(shop.name), sender_of(shop))),
        to=[message.to_address],
        reply_to=[shop.email] if shop.email else None,
        headers={
            "Message-ID": message.message_id,
            "List-Unsubscribe": f"<{stop_url}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
            "Auto-Submitted": "auto-generated",
        },
    )
    email.attach("service.ics", message.calendar, "text/calendar")
    return email


class MailServer:
    """The mail server of the settings, over one connection for a batch."""

    def __init__(self) -> None:
        self.repeat_is_harmless = bool(settings.EMAIL_REPEAT_IS_HARMLESS)
        self._connection = get_connection()

    def open(self) -> None:
        try:
            self._connection.open()
        except (OSError, smtplib.SMTPException) as error:
            raise NotNow(f"The mail server cannot be reached: {error}") from error

    def hand_over(self, email: EmailMessage) -> None:
        email.connection = self._connection
        try:
            email.send()
        except smtplib.SMTPRecipientsRefused as error:
            code, words = next(iter(error.recipients.values()))
            raise (Refused if code >= 500 else NotNow)(_words(code, words)) from error
        except smtplib.SMTPSenderRefused as error:
            raise (Refused if error.smtp_code >= 500 else NotNow)(_words(error.smtp_code, error.smtp_error)) from error
        except smtplib.SMTPResponseException as error:
            raise (Refused if error.smtp_code >= 500 else NotNow)(_words(error.smtp_code, error.smtp_error)) from error
        except (OSError, smtplib.SMTPException) as error:
            why = one_line(str(error)) or type(error).__name__
            raise CutOff(f"The mail server went away half way; it may have arrived ({why}).") from error

    def close(self) -> None:
        self._connection.close()


class MailFiles:
    """A folder that takes each Message-ID once: a file is there whole, or not at all."""

    repeat_is_harmless = True

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def open(self) -> None:
        self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)

    def hand_over(self, email: EmailMessage) -> None:
        content = email.message().as_bytes()
        name = hashlib.sha256(email.extra_headers["Message-ID"].encode()).hexdigest()[:32]
        descriptor, draft = tempfile.mkstemp(prefix=".draft-", dir=self.folder)
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(draft, self.folder / f"{name}.eml")
        except FileExistsError:
            pass  # it was handed over before the sender was cut off
        finally:
            os.unlink(draft)

    def close(self) -> None:
        """Nothing is held open."""


def _header(text: str) -> str:
    """One line, and no encoded word (RFC 2047) of its own, which a reader would unfold into whatever it holds."""
    return one_line(text).replace("=?", "= ?")


def _words(code: int, words: bytes | str) -> str:
    text = words.decode(errors="replace") if isinstance(words, bytes) else words
    return one_line(f"{code} {text}")
