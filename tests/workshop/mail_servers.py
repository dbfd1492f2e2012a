"""Mail servers on this machine for tests: with and without encryption, with a password, and one that refuses."""

from __future__ import annotations

import datetime as dt
import ipaddress
import socket
import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword, Session
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

NAME, PASSWORD = "shop", "three wet spanners"


class Letters:
    """Takes letters and keeps them; refuses what it was told to."""

    def __init__(self) -> None:
        self.taken: list[EmailMessage] = []
        self.refuses: dict[str, str] = {}
        self.signed_in: list[tuple[str, str]] = []

    async def handle_MAIL(  # noqa: N802  aiosmtpd names its handlers so
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        envelope.mail_from = address
        return self.refuses.get(address, "250 OK")

    async def handle_RCPT(  # noqa: N802
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if address not in self.refuses:
            envelope.rcpt_tos.append(address)
        return self.refuses.get(address, "250 OK")

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        if "data" in self.refuses:
            return self.refuses["data"]
        assert isinstance(envelope.content, bytes)
        letter = message_from_bytes(envelope.content, policy=policy.default)
        assert isinstance(letter, EmailMessage)
        self.taken.append(letter)
        return "250 Taken"

    async def handle_QUIT(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        return self.refuses.get("quit", "221 Bye")

    def let_in(self, server: SMTP, session: Session, envelope: Envelope, mechanism: str, data: Any) -> AuthResult:
        assert isinstance(data, LoginPassword)
        said = (data.login.decode(), data.password.decode())
        self.signed_in.append(said)
        return AuthResult(success=said == (NAME, PASSWORD), handled=False)


class _Controller(Controller):
    """Waits for its start by a plain connection: aiosmtpd's own speaks TLS with the server's side of it."""

    def _trigger_server(self) -> None:
        socket.create_connection((self.hostname, self.port), timeout=5).close()


@contextmanager
def mail_server(
    letters: Letters, *, starttls: ssl.SSLContext | None = None, tls: ssl.SSLContext | None = None, asks: bool = False
) -> Iterator[int]:
    """The port of a server on 127.0.0.1. `asks`: it takes letters only after a sign-in."""
    more: dict[str, Any] = {"authenticator": letters.let_in, "auth_required": asks} if asks else {}
    if asks:
        more["auth_require_tls"] = tls is None  # aiosmtpd does not count TLS from the start
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    controller = _Controller(letters, hostname="127.0.0.1", port=port, tls_context=starttls, ssl_context=tls, **more)
    controller.start()
    try:
        yield port
    finally:
        controller.stop()


def certificate(folder: Path, name: str = "127.0.0.1") -> tuple[Path, ssl.SSLContext]:
    """A certificate that vouches for itself, as a file to trust, and a server's side of it."""
    key = ec.generate_private_key(ec.SECP256R1())
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Mail server of the tests")])
    now = dt.datetime.now(dt.UTC)
    is_number = name.replace(".", "").isdigit()
    other: x509.GeneralName = x509.IPAddress(ipaddress.ip_address(name)) if is_number else x509.DNSName(name)
    made = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName([other]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .sign(key, hashes.SHA256())
    )
    public, both = folder / "trusted.pem", folder / "server.pem"
    public.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    private = key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    both.write_bytes(private + public.read_bytes())
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(both)
    return public, context
