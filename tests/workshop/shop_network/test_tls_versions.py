"""What the server takes on its TLS port: TLS 1.2 and 1.3 with ciphers that keep no old faults, and nothing older.

Which versions and ciphers: RFC 9325 (recommendations for TLS). Tried with OpenSSL, another library than the server's.
"""

from __future__ import annotations

import datetime as dt
import os
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from tests.faults.served import free_port
from workshop.serving import granian_command, size_for
from workshop.shop_network.authority import issue_certificate, make_authority, pem_of_key

pytestmark = pytest.mark.any_database
ANSWERS = "async def server(scope, protocol):\n    protocol.response_str(200, [], 'here')\n"
STARTS_WITHIN_S = 120


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """Of a server started with the shop's own command line, and an application that says one word."""
    folder, now = tmp_path_factory.mktemp("tls"), dt.datetime.now(dt.UTC)
    authority = make_authority(now)
    certificate, own = issue_certificate(authority, ["127.0.0.1"], now=now, lasts=dt.timedelta(days=1))
    chain, key, at = folder / "chain.pem", folder / "key.pem", free_port()
    chain.write_bytes(b"".join(one.public_bytes(Encoding.PEM) for one in (certificate, authority.issuer)))
    key.write_bytes(pem_of_key(own))
    (folder / "says.py").write_text(ANSWERS)
    size = size_for("django.db.backends.sqlite3", workers=1, cores=1)
    command = granian_command("127.0.0.1", at, size, certificate=chain, key=key)
    process = subprocess.Popen([*command[:-1], "says:server"], cwd=folder, env=os.environ | {"PYTHONPATH": str(folder)})
    try:
        wait_until_it_answers(at)
        yield at
    finally:
        process.terminate()
        process.wait(30)


def wait_until_it_answers(port: int) -> None:
    give_up = time.monotonic() + STARTS_WITHIN_S
    while True:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=1):
                return
        except OSError:
            assert time.monotonic() < give_up, "the server did not start"
            time.sleep(0.1)


def agreed(
    port: int, *, newest: ssl.TLSVersion, oldest: ssl.TLSVersion, ciphers: str = "ALL:@SECLEVEL=0"
) -> ssl.SSLSocket:
    """A connection of a client that takes these versions and, below TLS 1.3, these ciphers."""
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.check_hostname, client.verify_mode = False, ssl.CERT_NONE
    client.set_ciphers(ciphers)
    client.minimum_version, client.maximum_version = oldest, newest
    with socket.create_connection(("127.0.0.1", port), timeout=30) as line:
        return client.wrap_socket(line)


@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3])
def test_versions_of_today_are_taken_with_ciphers_that_authenticate_and_forget(
    port: int, version: ssl.TLSVersion
) -> None:
    with agreed(port, newest=version, oldest=version) as connection:
        name, said, bits = connection.cipher() or ("", "", 0)
        assert connection.version() == version.name.replace("v1_", "v1.")
        assert name.startswith(("TLS_", "ECDHE-"))  # a key of its own for each connection
        assert "GCM" in name or "CHACHA20" in name
        assert bits >= 128
        assert said


def test_the_newest_version_is_preferred(port: int) -> None:
    with agreed(port, newest=ssl.TLSVersion.TLSv1_3, oldest=ssl.TLSVersion.TLSv1_2) as connection:
        assert connection.version() == "TLSv1.3"


@pytest.mark.filterwarnings("ignore:ssl.TLSVersion:DeprecationWarning")
@pytest.mark.parametrize("version", [ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1])
def test_an_old_version_is_refused(port: int, version: ssl.TLSVersion) -> None:
    with pytest.raises((ssl.SSLError, ConnectionError)):
        agreed(port, newest=version, oldest=version)


@pytest.mark.parametrize(
    "ciphers", ["AES128-SHA", "ECDHE-ECDSA-AES128-SHA", "ECDHE-ECDSA-AES256-SHA384", "eNULL", "PSK"]
)
def test_a_cipher_with_an_old_fault_is_refused(port: int, ciphers: str) -> None:
    with pytest.raises((ssl.SSLError, ConnectionError)):
        agreed(port, newest=ssl.TLSVersion.TLSv1_2, oldest=ssl.TLSVersion.TLSv1_2, ciphers=f"{ciphers}:@SECLEVEL=0")
