"""Many devices at once and sockets that say nothing: the production server answers all the same."""

from __future__ import annotations

import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

import psutil
import pytest

from tests.workshop.test_serving import serve
from workshop.serving import SILENT_FOR_MS
from workshop.system_packages import to_type

DEVICES, CONNECTIONS_EACH, SILENT = 20, 6, 40  # browsers open up to six to one host: RFC 9112, 9.4, and common practice
HANDSHAKE_S = 10  # Granian's own limit for a TLS handshake, measured: it has no option for it
REQUEST = b"GET /sign-in/ HTTP/1.1\r\nHost: localhost\r\n\r\n"
# Over TLS a cookie has its prefix.
TOKEN = f"Host: localhost\r\nCookie: csrftoken={'t' * 32}; __Host-csrftoken={'t' * 32}\r\n"
FORM = "Content-Type: application/x-www-form-urlencoded\r\n"
STOPPED = 16  # twice the threads of a shop on SQLite
BODY_WITHIN_S = 10  # how long a sender of a body may be silent


@dataclass
class Served:
    port: int
    tls: ssl.SSLContext | None
    pid: int

    def connect(self, patience_s: float, *, handshake: bool = True) -> socket.socket:
        plain = socket.create_connection(("127.0.0.1", self.port), timeout=patience_s)
        return self.tls.wrap_socket(plain, server_hostname="localhost") if self.tls and handshake else plain

    def memory_bytes(self) -> int:
        return sum(process.memory_info().rss for process in psutil.Process(self.pid).children(recursive=True))

    def seconds_to_answer(self, patience_s: float = 20) -> float:
        begun = time.monotonic()
        with self.connect(patience_s) as device:
            ask(device)
        return time.monotonic() - begun


def ask(device: socket.socket) -> None:
    device.sendall(REQUEST)
    assert device.recv(65_536).startswith(b"HTTP/1.1 200"), "another answer"


@pytest.fixture(params=["plain", "tls"], scope="module")
def served(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, migrated_copy: Path | None
) -> Iterator[Served]:
    """The server as shipped, with one process, so that every connection meets the same limits.

    Its tables are there: that it makes them itself is for test_one_command_starts_a_new_shop.
    """
    folder = tmp_path_factory.mktemp("crowded")
    if migrated_copy is not None:
        (folder / "data").mkdir(mode=0o700)
        shutil.copyfile(migrated_copy, folder / "data" / "shop.sqlite3")
    protection, context = ["--http"], None
    if request.param == "tls":
        protection, context = certificate_in(folder)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    server = serve(port, folder / "data", "--workers", "1", *protection, ALLOWED_HOSTS="localhost")
    shop = Served(port, context, server.pid)
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


def begin_post(served: Served, length: int | str, begun: bytes) -> socket.socket:
    """A post that has sent its header and the beginning of its body, in which the shop looks for the form's token."""
    device = served.connect(20)
    size = "Transfer-Encoding: chunked" if length == "chunked" else f"Content-Length: {length}"
    device.sendall(f"POST /sign-in/ HTTP/1.1\r\n{TOKEN}{FORM}{size}\r\n\r\n".encode() + begun)
    return device


def seconds_until_closed(device: socket.socket, begun: float) -> float:
    device.settimeout(30)  # a TimeoutError says that it stays open
    try:
        while device.recv(65_536):
            pass
    except ConnectionError:
        pass
    return time.monotonic() - begun


def test_sixteen_posts_that_stop_within_the_body_beside_twenty_devices(served: Served) -> None:
    devices: list[socket.socket] = []
    try:
        for _ in range(DEVICES * CONNECTIONS_EACH):
            devices.append(served.connect(20))
            ask(devices[-1])
        begun = time.monotonic()
        stopped = [begin_post(served, 1000, b"username=") for _ in range(STOPPED)]
        devices += stopped
        assert seconds_at_best(served) < 1
        assert max(seconds_until_closed(device, begun) for device in stopped) < BODY_WITHIN_S + 3
    finally:
        close_all(devices)


def test_posts_that_stop_or_drip_are_closed_wherever_they_stop(served: Served) -> None:
    """Nothing of a body, its beginning, much of it, a piece of one without a size; and one of a byte a second."""
    begun = time.monotonic()
    stopped = [
        begin_post(served, length, sent)
        for length, sent in (
            (1000, b""),
            (1000, b"username="),
            (3_000_000, b"x" * 200_000),
            ("chunked", b"9\r\nusername="),
        )
    ]
    drips = begin_post(served, 1000, b"u")
    drips.settimeout(1)
    try:
        is_open = True
        while is_open:
            assert time.monotonic() - begun < BODY_WITHIN_S + 3
            try:
                drips.sendall(b"x")
                is_open = bool(drips.recv(65_536))
            except TimeoutError:
                continue
            except ConnectionError:
                is_open = False
        for number, device in enumerate(stopped):
            assert seconds_until_closed(device, begun) < BODY_WITHIN_S + 3, number
    finally:
        close_all([*stopped, drips])


def test_what_is_too_large_is_refused_unread(served: Served) -> None:
    """A body beyond what those without a login may send is not waited for."""
    for length in ((64 << 20) + 1, 1 << 40):
        with begin_post(served, length, b"x") as device:
            assert device.recv(65_536).startswith(b"HTTP/1.1 413")


def upload_honestly(served: Served) -> bytes:
    """20 kB a second for 15 s, with a silence of 5 s as when a tablet changes from one aerial to the next."""
    form = {"csrfmiddlewaretoken": "t" * 32, "username": "nobody-of-ours", "password": "wrong"}
    body = urlencode(form | {"padding": "x" * 300_000}).encode()
    origin = f"Origin: {'https' if served.tls else 'http'}://localhost\r\n"
    header = f"POST /sign-in/ HTTP/1.1\r\n{TOKEN}{FORM}{origin}Content-Length: {len(body)}\r\n\r\n"
    with served.connect(20) as device:
        device.sendall(header.encode())
        for second in range(0, len(body), 20_000):
            device.sendall(body[second : second + 20_000])
            time.sleep(5 if second == 100_000 else 1)
        answer = b""
        while b"</html>" not in answer:
            got = device.recv(65_536)
            assert got, answer[:300]
            answer += got
    return answer


@pytest.fixture(scope="module", autouse=True)
def honest(served: Served) -> Iterator[Future[bytes]]:
    """An upload that goes on beside the other tests: it takes twenty seconds, most of them waiting."""
    with ThreadPoolExecutor(1) as beside:
        yield beside.submit(upload_honestly, served)


def test_an_honest_upload_over_a_bad_network_passes(honest: Future[bytes]) -> None:
    answer = honest.result(timeout=120)
    assert answer.startswith(b"HTTP/1.1 200"), answer[:300]
    assert b'value="nobody-of-ours"' in answer  # the form was read to its end


def test_bodies_that_stop_do_not_grow_the_memory(served: Served) -> None:
    served.seconds_to_answer()
    before = served.memory_bytes()
    devices: list[socket.socket] = []
    try:
        devices += [begin_post(served, 60 << 20, b"x" * (8 << 20)) for _ in range(STOPPED)]
        assert served.memory_bytes() - before < 48 << 20  # of 128 MiB that were sent
    finally:
        close_all(devices)
