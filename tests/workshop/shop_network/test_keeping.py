"""Looking after the shop in its network: addresses that change, a full disk, a clock, a name that is taken."""

from __future__ import annotations

import datetime as dt
import os
import socket
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from workshop.shop_network import keeping
from workshop.shop_network.announcing import who_has
from workshop.shop_network.keeping import AskedFor, ShopNetwork
from workshop.shop_network.served import VARIABLE, served_by_now

NOW = dt.datetime.now(dt.UTC)
HERE = ["127.0.0.1"]
NAME = f"workshop-{os.getpid()}"  # nobody else of this machine has it, whatever runs beside


class Clock:
    def __init__(self) -> None:
        self.time = NOW

    def __call__(self) -> dt.datetime:
        return self.time


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def said() -> list[str]:
    return []


@pytest.fixture
def addresses(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Where this machine is; a test moves it."""
    found = ["192.168.1.5"]
    monkeypatch.setattr(keeping, "local_addresses", lambda listening_on: list(found))
    return found


@pytest.fixture
def network(tmp_path: Path, clock: Clock, said: list[str], addresses: list[str]) -> ShopNetwork:
    return ShopNetwork(AskedFor(tmp_path / "network", "any", 8000, 8080, "workshop"), say=said.append, now=clock)


def hosts_served(tmp_path: Path) -> tuple[str, ...]:
    served = served_by_now(tmp_path, {VARIABLE: "1"})
    assert served is not None
    return served.hosts


def test_nothing_is_done_while_nothing_changes(network: ShopNetwork, clock: Clock, said: list[str]) -> None:
    before = network.certificate.read_bytes()
    clock.time += dt.timedelta(days=5)
    assert not network.look()
    assert network.certificate.read_bytes() == before
    assert said == []


def test_a_changed_address_is_served_at_once(
    network: ShopNetwork, addresses: list[str], said: list[str], tmp_path: Path
) -> None:
    addresses[:] = ["10.0.0.9"]
    assert network.look()
    assert "10.0.0.9" in hosts_served(tmp_path)
    assert "192.168.1.5" not in hosts_served(tmp_path)
    assert network.served.page_address == "http://10.0.0.9:8080/"
    assert said == [
        "The server’s certificate was made anew: names or addresses changed.",
        "The addresses of this machine changed.",
    ]
    assert not network.look()


def test_a_machine_without_a_network_waits_for_one(network: ShopNetwork, addresses: list[str], tmp_path: Path) -> None:
    addresses.clear()
    assert network.look()
    assert any("in no local network yet" in words for words in network.warnings())
    addresses.append("192.168.1.5")
    assert network.look()
    assert network.warnings() == []
    assert "192.168.1.5" in hosts_served(tmp_path)


def test_the_certificate_is_renewed_in_time_and_after_a_long_sleep(network: ShopNetwork, clock: Clock) -> None:
    for days in (11, 200):
        clock.time += dt.timedelta(days=days)
        assert network.look()
        assert not network.look()


def test_what_goes_wrong_meanwhile_is_said_once_and_the_server_goes_on(
    network: ShopNetwork, clock: Clock, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> str:
        raise OSError(28, os.strerror(28))

    with monkeypatch.context() as patch:
        patch.setattr("workshop.shop_network.server_certificate.renew", full)
        assert not network.look()
        assert not network.look()
    assert said == ["The server’s certificate could not be looked after: No space left on device."]


def test_a_clock_that_jumps_spoils_no_certificate(network: ShopNetwork, clock: Clock, said: list[str]) -> None:
    before = network.certificate.read_bytes()
    for year, words in ((2001, "The clock of this machine says 1 January 2001"), (2099, "ended on")):
        clock.time = dt.datetime(year, 1, 1, tzinfo=dt.UTC)
        assert not network.look()
        assert words in said[-1]
        assert network.certificate.read_bytes() == before
    clock.time = NOW
    assert not network.look()
    assert len(said) == 2


def test_an_authority_near_its_end_warns(network: ShopNetwork, clock: Clock) -> None:
    clock.time = network.authority.ends - dt.timedelta(days=100)
    assert any("authority ends on" in words for words in network.warnings())


def multicast_works() -> bool:
    """Whether this machine hears itself on the group of RFC 6762, on a port of its own."""
    group, here = socket.inet_aton("224.0.0.251"), socket.inet_aton(HERE[0])
    with socket.socket(type=socket.SOCK_DGRAM) as ear, socket.socket(type=socket.SOCK_DGRAM) as mouth:
        try:
            ear.bind(("", 0))
            ear.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, group + here)
            ear.settimeout(5)
            mouth.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, here)
            mouth.sendto(b"heard", ("224.0.0.251", ear.getsockname()[1]))
            return ear.recv(10) == b"heard"
        except OSError:
            return False


def test_the_name_is_answered_on_the_network_and_not_where_another_has_it(
    tmp_path: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over this machine's own loop, where multicast works."""
    if not multicast_works():
        pytest.skip("No multicast on this machine.")
    wanted = AskedFor(tmp_path / "network", "127.0.0.1", 8000, 8080, NAME)
    network = ShopNetwork(wanted, say=said.append)

    def answered() -> None:
        with network.announced():
            assert who_has(NAME, interfaces=HERE, within_ms=30_000) == HERE  # it ends at the first answer
            assert list(network.served.shown) == ["127.0.0.1", f"{NAME}.local"]

    with ThreadPoolExecutor(1) as beside:  # a browser of the tests has a loop of events in this one
        beside.submit(answered).result()
    assert said == []
    # Another machine answers to the name: it is not taken from it.
    monkeypatch.setattr(keeping, "who_has", lambda name, *, interfaces: ["192.168.1.77"])
    with network.announced():
        assert list(network.served.shown) == ["127.0.0.1"]
    assert f"{NAME}.local is another machine’s name in this network (192.168.1.77)" in said[0]
    assert "--name" in said[0]


def test_without_multicast_the_addresses_work(
    network: ShopNetwork, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def nobody(name: str, *, interfaces: list[str]) -> list[str]:
        raise OSError(19, "No such device")

    monkeypatch.setattr(keeping, "who_has", nobody)
    done = threading.Event()
    with network.announced():
        done.set()
    assert done.is_set()
    assert list(network.served.shown) == ["192.168.1.5"]
    assert "cannot be announced" in said[0]
