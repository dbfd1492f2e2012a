"""The page for a new tablet, over plain HTTP: what it serves, and that it serves nothing else."""

from __future__ import annotations

import datetime as dt
import hashlib
import http.client
import re
import socket
import ssl
from collections.abc import Iterator

import numpy as np
import pytest
import zxingcpp

from tests.squeezed import squeezed
from workshop.shop_network.authority import Authority, make_authority
from workshop.shop_network.in_words import told_on_terminal
from workshop.shop_network.page_files import CERTIFICATE, STANDING, PageFiles
from workshop.shop_network.page_server import AT_ONCE, PageServer, page_served
from workshop.shop_network.served import Served

NOW = dt.datetime.now(dt.UTC)


@pytest.fixture(scope="module")
def authority() -> Authority:
    return make_authority(NOW)


@pytest.fixture
def page(authority: Authority) -> Iterator[PageServer]:
    """The page's server, and beside it a port on which nothing listens."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        hosts = ("127.0.0.1", "workshop.local")
        served = Served(hosts, hosts, port, 1, authority.fingerprint)
        with page_served("127.0.0.1", 0, PageFiles(authority, served, now=lambda: NOW)) as server:
            yield server


def ask(
    page: PageServer, path: str, *, host: str = "127.0.0.1", method: str = "GET"
) -> tuple[int, http.client.HTTPMessage, str]:
    connection = http.client.HTTPConnection("127.0.0.1", page.server_port, timeout=20)
    try:
        connection.request(method, path, headers={"Host": f"{host}:{page.server_port}"})
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read().decode("utf-8", "replace")
    finally:
        connection.close()


def test_it_explains_each_kind_of_device_and_how_to_take_it_away_again(page: PageServer, authority: Authority) -> None:
    status, headers, html = ask(page, "/")
    assert status == 200
    html = squeezed(html)
    devices = re.findall(r"<summary>(.*?)</summary>(.*?)</details>", html)
    assert len(devices) == 6
    for device, words in devices:
        assert "To remove it" in words, device
        assert words.count("<li>") >= 2, device
    assert authority.fingerprint in html
    assert "Set-Cookie" not in headers
    assert "default-src 'none'" in headers["Content-Security-Policy"]


def test_the_certificate_is_the_one_that_the_terminal_names(page: PageServer, authority: Authority) -> None:
    status, headers, content = ask(page, CERTIFICATE)
    assert (status, headers["Content-Type"]) == (200, "application/x-x509-ca-cert")
    assert headers["Content-Disposition"] == 'attachment; filename="workshop-authority.crt"'
    assert "PRIVATE" not in content
    # The fingerprint by Python's own ssl and hashlib.
    digest = hashlib.sha256(ssl.PEM_cert_to_DER_cert(content)).hexdigest().upper()
    told = told_on_terminal(page.files.served)
    assert "".join(re.findall(r"(?:[0-9A-F]{2}:?){16}", told)).replace(":", "") == digest
    assert digest == authority.fingerprint.replace(":", "")


def test_all_that_the_page_names_is_there(page: PageServer) -> None:
    _, _, html = ask(page, "/")
    names = set(re.findall(r'(?:href|src)="(/[^"]+)"', html))
    assert len(names) > 10
    for name in names:
        assert ask(page, name)[0] == 200, name
    _, _, fonts = ask(page, "/css/fonts.css")
    for name in re.findall(r'url\("?\.\.(/fonts/[\w.-]+)', fonts):
        assert ask(page, name)[0] == 200, name


@pytest.mark.parametrize(
    "path",
    ["/bench/", "/sign-in/", "/static/css/base.css", "/js/bench.js", "/../manage.py", "//etc/passwd", "/authority.pem"],
)
def test_it_serves_nothing_of_the_shop_and_says_where_that_is(page: PageServer, path: str) -> None:
    status, _, html = ask(page, path)
    assert status == 404
    assert f"https://127.0.0.1:{page.files.served.port}/" in html


def test_a_form_is_not_taken(page: PageServer) -> None:
    assert ask(page, "/", method="POST")[0] == 501


@pytest.mark.parametrize("host", ["evil.example", "", "[", "<script>", "a" * 300])
def test_an_unknown_name_is_told_the_known_ones(page: PageServer, host: str) -> None:
    status, _, html = ask(page, "/", host=host)
    assert status == 400
    assert "The shop does not answer to" in html
    assert f"https://127.0.0.1:{page.files.served.port}/" in html
    assert "<script>" not in html.replace('<script src="/js/trust.js"', "")


def test_the_page_under_a_name_leads_to_the_shop_under_that_name(page: PageServer) -> None:
    _, headers, html = ask(page, "/", host="WORKSHOP.local")
    shop = f"https://workshop.local:{page.files.served.port}"
    assert f'data-check="{shop}/static/img/app-192' in html
    assert shop in headers["Content-Security-Policy"]


def test_it_says_the_time_and_whether_the_shop_runs(page: PageServer) -> None:
    assert ask(page, STANDING)[2] == f'{{"clock": "{NOW.isoformat()}", "serving": false}}'


def test_who_stops_in_the_middle_keeps_nobody_else_out(page: PageServer, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.shop_network.page_server._Handler.timeout", 0.5)
    silent = [socket.create_connection(("127.0.0.1", page.server_port)) for _ in range(AT_ONCE)]
    try:
        for connection in silent:
            connection.sendall(b"GET / HT")
            connection.settimeout(30)
        for connection in silent:
            assert connection.recv(1) == b""  # sent away
        assert ask(page, "/")[0] == 200
    finally:
        for connection in silent:
            connection.close()


def test_the_code_in_the_terminal_leads_to_the_page(page: PageServer) -> None:
    """Read by another library: zxing-cpp."""
    served = page.files.served
    told = told_on_terminal(served)
    rows = [line for line in told.splitlines() if re.fullmatch(r"[█▀▄ ]{20,}", line)]
    light = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    halves = [[[light[letter][half] for letter in row] for row in rows] for half in (0, 1)]
    picture = np.array([half for pair in zip(*halves, strict=True) for half in pair], dtype=np.uint8) * 255
    (read,) = zxingcpp.read_barcodes(np.kron(np.pad(picture, 8, constant_values=255), np.ones((6, 6), dtype=np.uint8)))
    assert read.text == served.page_address


def test_from_outside_the_network_nothing_is_answered(page: PageServer, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.shop_network.page_server.is_local", lambda address: False)
    status, _, words = ask(page, "/")
    assert status == 403
    assert "for the shop’s own network" in words


def test_a_taken_port_is_an_error_at_once(page: PageServer) -> None:
    with pytest.raises(OSError, match="in use"), page_served("127.0.0.1", page.server_port, page.files):
        pass
