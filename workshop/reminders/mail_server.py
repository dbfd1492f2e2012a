"""Speaking to a mail server once, to see whether it takes the shop's letters: each way to fail has words and field."""

from __future__ import annotations

import smtplib
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from email.message import EmailMessage

from workshop.reminders.mail_models import MailSettings
from workshop.reminders.punctual_mail import PunctualSMTP, PunctualSMTPOverTLS
from workshop.web.plain_text import one_line

WITHIN_S = 10
_Security = MailSettings.Security


class MailRefused(Exception):
    """The letter did not leave; `field` is what to look at, None where it is none of them. Nothing was kept."""

    def __init__(self, field: str | None, words: str) -> None:
        super().__init__(words)
        self.field = field


@dataclass(frozen=True)
class MailServerAt:
    """Where a mail server is and how to sign in."""

    host: str
    port: int
    security: str
    username: str
    password: str


def send_test_letter(server: MailServerAt, letter: EmailMessage) -> None:
    """Connect, encrypt, sign in, and hand the letter over. Raises MailRefused; then the server took no letter.

    The password leaves only over an encrypted line whose certificate is the server's, or to a server on this machine.
    """
    with _connected(server) as line, _in_words():
        line.ehlo_or_helo_if_needed()
        if server.security == _Security.STARTTLS:
            _encrypt(line)
        if server.username:
            _sign_in(line, server)
        line.send_message(letter)


@contextmanager
def _connected(server: MailServerAt) -> Iterator[smtplib.SMTP]:
    try:
        if server.security == _Security.TLS:
            line: smtplib.SMTP = PunctualSMTPOverTLS(
                server.host, server.port, timeout=WITHIN_S, context=ssl.create_default_context()
            )
        else:
            line = PunctualSMTP(server.host, server.port, timeout=WITHIN_S)
    except (OSError, UnicodeError, smtplib.SMTPException) as error:
        raise _why_not_reached(error) from error
    try:
        yield line
    finally:
        with suppress(OSError, smtplib.SMTPException):  # how it takes its leave changes nothing about the letter
            line.quit()
        line.close()


def _why_not_reached(error: Exception) -> MailRefused:
    if isinstance(error, ssl.SSLCertVerificationError):
        return _doubtful_certificate(error)
    if isinstance(error, ssl.SSLError):
        return MailRefused("security", "That port speaks no TLS from the start. Choose STARTTLS, or another port.")
    if isinstance(error, (socket.gaierror, UnicodeError)):
        return MailRefused("host", "No server of that name was found. Check its spelling, and the shop’s network.")
    if _timed_out(error):
        words = f"It did not answer within {WITHIN_S} seconds. Check name and port; port 465 needs TLS from the start."
        return MailRefused("host", words)
    if isinstance(error, ConnectionRefusedError):
        return MailRefused("port", "Nothing answers at that port. Usual are 587 and 465.")
    return MailRefused("host", "What answers there is no mail server, or it hung up. Check name and port.")


def _timed_out(error: Exception) -> bool:
    """smtplib says of a line that fell silent that it was closed, with the time that ran out as what came before."""
    return isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError)


def _doubtful_certificate(error: ssl.SSLCertVerificationError) -> MailRefused:
    why = one_line(error.verify_message or "it cannot be verified")
    words = f"Its certificate is not to be trusted ({why}), so neither password nor letter was sent."
    return MailRefused("host", f"{words} Check the name, and this machine’s clock.")


def _encrypt(line: smtplib.SMTP) -> None:
    if not line.has_extn("starttls"):
        words = "The server offers no encryption on that port, so neither password nor letter was sent."
        raise MailRefused("security", f"{words} Try TLS from the start with port 465.")
    try:
        line.starttls(context=ssl.create_default_context())
    except ssl.SSLCertVerificationError as error:
        raise _doubtful_certificate(error) from error
    line.ehlo()


def _sign_in(line: smtplib.SMTP, server: MailServerAt) -> None:
    if not line.has_extn("auth"):
        words = "The server takes no sign-in on that port. Leave name and password empty, or try another port."
        raise MailRefused("username", words)
    try:
        line.login(server.username, server.password)
    except smtplib.SMTPAuthenticationError as error:
        words = "The server does not take this name and password. Some providers want a password made for apps."
        raise MailRefused("password", f"{words} It said: {_said(error.smtp_code, error.smtp_error)}") from error
    except UnicodeError as error:
        raise MailRefused("password", "Letters beyond ASCII in name or password do not reach this server.") from error


@contextmanager
def _in_words() -> Iterator[None]:
    try:
        yield
    except smtplib.SMTPRecipientsRefused as error:
        code, answer = next(iter(error.recipients.values()))
        raise MailRefused("letter_to", f"The server does not take letters to it: {_said(code, answer)}") from error
    except smtplib.SMTPSenderRefused as error:
        words = f"The server does not send from this address: {_said(error.smtp_code, error.smtp_error)}"
        raise MailRefused("sender", words) from error
    except smtplib.SMTPResponseException as error:
        refused = f"The server refused the letter: {_said(error.smtp_code, error.smtp_error)}"
        raise MailRefused(None, refused) from error
    except (OSError, smtplib.SMTPException) as error:
        if _timed_out(error):
            words = f"The server stopped answering for {WITHIN_S} seconds. Try again."
            raise MailRefused(None, words) from error
        raise MailRefused(None, "The server hung up half way. Try again; if it stays so, ask its provider.") from error


def _said(code: int, words: bytes | str) -> str:
    text = words.decode(errors="replace") if isinstance(words, bytes) else words
    return one_line(f"{code} {text}")[:200]
