"""Handing an email over: to the mail server of the environment or of the shop, or in the demo to files."""

from __future__ import annotations

import hashlib
import os
import smtplib
import tempfile
from collections.abc import Mapping
from email.utils import formataddr
from pathlib import Path
from typing import Any, Protocol

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.utils.translation import gettext

from workshop.reminders.mail_models import MailSettings
from workshop.reminders.mail_setting import mail_in_use, password_of, sender_of_server, set_by_server
from workshop.reminders.models import Message
from workshop.staff.models import Shop
from workshop.staff.sealing import CannotOpen
from workshop.web.languages import speaking
from workshop.web.plain_text import one_line
from workshop.web.public_address import link_as_of_now, public_address_of


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


def why_no_mail(shop: Shop, *, with_link: bool = True) -> str:
    """What keeps email from leaving, in words; empty where it can leave. The demo's always can: it goes to files.

    `with_link`: it carries a link of ours, as reminders do.
    """
    if shop.is_demo:
        return ""
    kept = None if set_by_server() else mail_in_use(shop)
    if kept is None and not set_by_server():
        return "This shop cannot send email yet: set it up in Office, Shop, Mail, or set EMAIL_HOST for the server."
    if kept is not None and not _opens(kept):
        return (
            "The mail password was kept with another secret key and cannot be opened: set up Office, Shop, Mail anew."
        )
    if not _sender(shop, kept):
        return "This shop has no address to send email from: enter its email in Office, Shop, or set EMAIL_FROM."
    if with_link and not public_address_of(shop):
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
    return _sender(shop, None if set_by_server() else mail_in_use(shop))


def _sender(shop: Shop, kept: MailSettings | None) -> str:
    return sender_of_server() or (kept.sender if kept else "") or shop.email


def _opens(kept: MailSettings) -> bool:
    try:
        password_of(kept)
    except CannotOpen:
        return False
    return True


def delivery_for(shop: Shop, *, within_s: int | None = None) -> MailDelivery:
    """Files for the demo, whatever mail server is set; else the environment's server, or the one the owner set up.

    `within_s`: how long it may take to answer each time; as the settings say without it.
    """
    if shop.is_demo:
        return MailFiles(Path(settings.DATA_DIR) / "mail")
    return MailServer(None if set_by_server() else mail_in_use(shop), within_s=within_s or settings.EMAIL_TIMEOUT)


def email_of(message: Message) -> EmailMessage:
    """A reminder with its calendar entry, and the link that stops reminders in text and headers (RFC 8058).

    The word that something is ready is no reminder: it has neither. An order has its list as a file.
    """
    shop = message.shop
    if message.kind == Message.Kind.READY:
        return _plain_email(message, message.body, {})
    if message.kind == Message.Kind.ORDER:
        email = _plain_email(message, message.body, {})
        number = message.order.number if message.order is not None else message.pk
        email.attach(f"order-{number}.csv", message.attached.encode("utf-8-sig"), "text/csv")
        return email
    stop_url = link_as_of_now(shop, message.stop_url)
    with speaking(message.language):
        calendar = gettext("The attached file puts the day into your calendar.")
        stop = gettext("No more reminders: %(address)s") % {"address": stop_url}
    foot = f"{calendar}\n{stop}\n"
    email = _plain_email(
        message,
        f"{message.body}\n\n--\n{foot}",
        {"List-Unsubscribe": f"<{stop_url}>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click"},
    )
    email.attach("service.ics", message.calendar, "text/calendar")
    return email


def _plain_email(message: Message, body: str, headers: Mapping[str, str]) -> EmailMessage:
    shop = message.shop
    return EmailMessage(
        subject=_header(message.subject),
        body=body,
        from_email=formataddr((_header(shop.name), sender_of(shop))),
        to=[message.to_address],
        reply_to=[shop.email] if shop.email else None,
        headers={"Message-ID": message.message_id, **headers, "Auto-Submitted": "auto-generated"},
    )


class MailServer:
    """The mail server of the environment, or the one an owner set up (`kept`), over one connection for a batch."""

    def __init__(self, kept: MailSettings | None = None, *, within_s: int = settings.EMAIL_TIMEOUT) -> None:
        self.repeat_is_harmless = bool(settings.EMAIL_REPEAT_IS_HARMLESS)
        self._cannot_open = kept is not None and not _opens(kept)
        self._connection = (
            get_connection(timeout=within_s) if kept is None else _connection_of(kept, not self._cannot_open, within_s)
        )

    def open(self) -> None:
        if self._cannot_open:
            raise NotNow("The mail password cannot be opened with this server’s secret key.")
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


def _connection_of(kept: MailSettings, opens: bool, within_s: int) -> Any:
    return get_connection(
        "workshop.reminders.punctual_mail.PunctualBackend",
        host=kept.host,
        port=kept.port,
        username=kept.username,
        password=password_of(kept) if opens else "",
        use_tls=kept.security == MailSettings.Security.STARTTLS,
        use_ssl=kept.security == MailSettings.Security.TLS,
        timeout=within_s,
    )


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
