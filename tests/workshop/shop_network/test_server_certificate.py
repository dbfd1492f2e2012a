"""The server's certificate is made anew exactly when it no longer fits."""

from __future__ import annotations

import datetime as dt
import ssl
from pathlib import Path

import pytest

from workshop.shop_network.authority import Authority, make_authority
from workshop.shop_network.server_certificate import FILE, LASTS, renew

NOW = dt.datetime.now(dt.UTC)
DAY = dt.timedelta(days=1)
HOSTS = ["workshop.local", "192.168.1.5"]


@pytest.fixture(scope="module")
def authority() -> Authority:
    return make_authority(NOW)


def test_it_is_made_once_and_stays_while_it_fits(tmp_path: Path, authority: Authority) -> None:
    assert "there is none" in renew(tmp_path, authority, HOSTS, now=NOW)
    content = (tmp_path / FILE).read_bytes()
    assert (tmp_path / FILE).stat().st_mode & 0o777 == 0o600
    assert renew(tmp_path, authority, list(reversed(HOSTS)), now=NOW + 9 * DAY) == ""
    assert (tmp_path / FILE).read_bytes() == content
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(tmp_path / FILE)  # key and certificate are a pair


@pytest.mark.parametrize(
    ("later", "hosts", "why"),
    [
        (11 * DAY, HOSTS, "expires soon"),
        (31 * DAY, HOSTS, "had expired"),
        (-8 * DAY, HOSTS, "clock that was fast"),
        (DAY, [*HOSTS, "192.168.1.6"], "addresses changed"),
        (DAY, HOSTS[:1], "addresses changed"),
    ],
)
def test_it_is_made_anew_where_it_no_longer_fits(
    tmp_path: Path, authority: Authority, later: dt.timedelta, hosts: list[str], why: str
) -> None:
    renew(tmp_path, authority, HOSTS, now=NOW)
    assert why in renew(tmp_path, authority, hosts, now=NOW + later)
    assert renew(tmp_path, authority, hosts, now=NOW + later) == ""


def test_another_authority_and_a_damaged_file_make_it_anew(tmp_path: Path, authority: Authority) -> None:
    renew(tmp_path, make_authority(NOW), HOSTS, now=NOW)
    assert "another authority" in renew(tmp_path, authority, HOSTS, now=NOW)
    content = (tmp_path / FILE).read_bytes()
    for damaged in (b"", content[:200], content[: len(content) // 3]):
        (tmp_path / FILE).write_bytes(damaged)
        assert "can be read" in renew(tmp_path, authority, HOSTS, now=NOW)


def test_it_ends_with_the_authority_and_is_not_made_over_and_over_near_that(
    tmp_path: Path, authority: Authority
) -> None:
    near = authority.ends - 4 * DAY
    assert renew(tmp_path, authority, HOSTS, now=near)
    assert renew(tmp_path, authority, HOSTS, now=near + DAY) == ""
    assert LASTS == 30 * DAY
