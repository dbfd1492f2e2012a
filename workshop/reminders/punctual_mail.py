"""Mail servers that hang: each answer has a time in which all of it has to be there.

The timeout of a socket is that of one read. A server that sends a letter every few seconds, or a line without end,
never lets it run out, and would hold whoever waits for ever.
"""

from __future__ import annotations

import io
import smtplib
import socket
import time

from django.core.mail.backends.smtp import EmailBackend

ANSWERS_WITHIN_S = 60.0


class _Answer(io.RawIOBase):
    """What the server sends, until its time is over."""

    def __init__(self, line: socket.socket, within_s: float) -> None:
        super().__init__()
        self._line, self._within_s, self._most_s = line, within_s, line.gettimeout()
        self.begin()

    def begin(self) -> None:
        self._give_up = time.monotonic() + self._within_s

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        left = self._give_up - time.monotonic()
        if left <= 0:
            raise TimeoutError("The server did not come to the end of its answer.")
        self._line.settimeout(left if self._most_s is None else min(left, self._most_s))
        try:
            return self._line.recv_into(buffer)
        finally:
            self._line.settimeout(self._most_s)


class PunctualSMTP(smtplib.SMTP):
    """smtplib's own, whose server has to come to an end."""

    within_s = ANSWERS_WITHIN_S
    _answer: _Answer | None = None

    def getreply(self) -> tuple[int, bytes]:
        if self.file is None and self.sock is not None:
            self._answer = _Answer(self.sock, self.within_s)
            self.file = io.BufferedReader(self._answer)
        elif self._answer is not None:
            self._answer.begin()
        return super().getreply()


class PunctualSMTPOverTLS(PunctualSMTP, smtplib.SMTP_SSL):
    """The same with TLS from the first byte."""


class PunctualBackend(EmailBackend):
    """Django's way to a mail server, over such a line."""

    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return PunctualSMTPOverTLS if self.use_ssl else PunctualSMTP
