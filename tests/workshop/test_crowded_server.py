"""Many devices at once and sockets that say nothing: the production server answers all the same."""

from __future__ import annotations

import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.workshop.test_serving import serve
from workshop.serving import SILENT_FOR_MS
from workshop.system_packages import to_type

DEVICES, CONNECTIONS_EACH, SILENT = 20, 6, 40  # browsers open up to six to one host: RFC 9112, 9.4, and common practice
HANDSHAKE_S = 10  # Granian's own limit for a TLS handshake, measured: it has no option for it
REQUEST = b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\n\r\n"


@dataclass
class Served:
    port: int
    tls: ssl.SSLContext | None

    def connect(self, patience_s: float, *, handshake: bool = True) -> socket.socket:
        plain = socket.create_connection(("127.0.0.1", self.port), timeout=patience_s)
        return self.tls.wrap_socket(plain, server_hostname="localhost") if self.tls and handshake else plain

    def seconds_to_answer(self, patience_s: float = 20) -> float:
        begun = time.monotonic()
        with self.connect(patience_s) as device:
            ask(device)
        return time.monotonic() - begun


def ask(device: socket.socket) -> None:
    device.sendall(REQUEST)
    assert device.recv(65_536).startswith(b"HTTP/1.1 200"), "another answer"


@pytest.fixture(params=["plain", "tls"], scope="module")
def served(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The server as shipped, with one process, so that every connection meets the same limits."""
    folder = tmp_path_factory.mktemp("crowded")
    protection, context = ["--http"], None
    if request.param == "tls":
        protection, context = certificate_in(folder)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    server = serve(port, folder / "data", "--workers", "1", *protection, ALLOWED_HOSTS="localhost")
    shop = Served(port, context)
    try:
        give_up = time.monotonic() + 240
        while True:
            try:
                shop.seconds_to_answer()
                break
            except OSError:
                assert server.poll() is None, server.stdout and server.stdout.read()
                assert time.monotonic() < give_up, "no answer in four minutes"
                time.sleep(0.2)
        yield shop
    finally:
        server.terminate()
        try:
            server.communicate(timeout=30)
        finally:
            server.kill()


def certificate_in(folder: Path) -> tuple[list[str], ssl.SSLContext]:
    """A certificate for localhost: the options that serve it, and what trusts it."""
    if not shutil.which("openssl"):
        pytest.skip(f"No openssl. As root: {to_type(['openssl'])}")
    certificate, key = folder / "chain.pem", folder / "key.pem"
    make = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    names = ["-addext", "subjectAltName=DNS:localhost", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run([*make, *names], check=True, capture_output=True, timeout=60)
    return ["--certificate", str(certificate), "--key", str(key)], ssl.create_default_context(cafile=str(certificate))


def seconds_at_best(served: Served) -> float:
    """Of three, since a busy machine may be late once; a server that is full is late each time."""
    return min(served.seconds_to_answer() for _ in range(3))


def close_all(devices: list[socket.socket]) -> None:
    for device in devices:
        device.close()


def test_twenty_devices_with_six_connections_each_and_forty_silent_ones(served: Served) -> None:
    devices: list[socket.socket] = []
    try:
        for _ in range(DEVICES * CONNECTIONS_EACH):
            devices.append(served.connect(20))
            ask(devices[-1])
        devices += [served.connect(20, handshake=False) for _ in range(SILENT)]
        assert seconds_at_best(served) < 1
    finally:
        close_all(devices)


def test_silent_connections_are_closed_within_seconds(served: Served) -> None:
    """One that never spoke, one that stopped within its request, one that was answered, one without a handshake."""
    silent = {"never spoke": served.connect(20), "half a request": served.connect(20), "answered": served.connect(20)}
    silent["half a request"].sendall(REQUEST[:20])
    ask(silent["answered"])
    begun = time.monotonic()
    limits = dict.fromkeys(silent, SILENT_FOR_MS / 1000)
    if served.tls:
        silent["no handshake"] = served.connect(20, handshake=False)
        limits["no handshake"] = HANDSHAKE_S
    try:
        for what in sorted(silent, key=lambda name: limits[name]):
            silent[what].settimeout(30)
            while silent[what].recv(65_536):  # the rest of a page; a TimeoutError says that it stays open
                pass
            assert time.monotonic() - begun < limits[what] + 3, what
    finally:
        close_all(list(silent.values()))
