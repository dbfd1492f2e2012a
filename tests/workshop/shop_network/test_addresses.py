"""Names and addresses of this machine in the shop's network, and what the settings make of them."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import ifaddr
import pytest

from workshop.shop_network.addresses import hosts_for, local_addresses, name_on_the_network
from workshop.shop_network.served import FOLDER, VARIABLE, Served, served_by_now, write_served

ANYWHERE = "0.0.0.0"  # noqa: S104  only named here
SERVED = Served(("workshop.local", "192.168.1.5"), ("192.168.1.5", "workshop.local"), 8000, 8080, "AB:CD")


def machine(monkeypatch: pytest.MonkeyPatch, **networks: str) -> None:
    """This machine has these networks, each with an address."""
    found = [
        SimpleNamespace(nice_name=name, ips=[SimpleNamespace(ip=ip, is_IPv4=":" not in ip)])
        for name, ip in networks.items()
    ]
    monkeypatch.setattr(ifaddr, "get_adapters", lambda: found)


def test_only_addresses_that_a_tablet_can_be_beside(monkeypatch: pytest.MonkeyPatch) -> None:
    machine(monkeypatch, lo="127.0.0.1", eth0="192.168.1.5", docker0="172.17.0.1", wan="203.0.113.9", wlan0="fd00::2")
    assert local_addresses(ANYWHERE) == ["192.168.1.5"]


def test_a_machine_in_no_network_has_none(monkeypatch: pytest.MonkeyPatch) -> None:
    machine(monkeypatch, lo="127.0.0.1")
    assert local_addresses(ANYWHERE) == []


def test_an_address_that_is_said_is_the_only_one() -> None:
    assert local_addresses("10.1.2.3") == ["10.1.2.3"]
    assert local_addresses("localhost") == ["127.0.0.1"]


@pytest.mark.parametrize("address", ["203.0.113.9", "8.8.8.8", "fd00::2", "shop.example.org", "workshop.local"])
def test_an_address_the_authority_cannot_vouch_for_is_refused(address: str) -> None:
    with pytest.raises(ValueError, match="no IPv4 address of a local network"):
        local_addresses(address)


def test_the_shop_answers_to_its_name_its_numbers_and_this_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "Bench-PC.example.org")
    hosts = ["workshop.local", "bench-pc.local", "localhost", "192.168.1.5", "127.0.0.1"]
    assert hosts_for(["192.168.1.5"], "workshop") == hosts
    monkeypatch.setattr("socket.gethostname", lambda: "bench_pc")  # no name of a host
    assert hosts_for([], "workshop") == ["workshop.local", "localhost", "127.0.0.1"]


def test_a_name_is_a_label() -> None:
    assert name_on_the_network(" Bench.local ") == "bench"
    for typed in ("", "-a", "a_b", "a.b", "wörk", "a" * 64):
        with pytest.raises(ValueError, match="cannot be a name on the network"):
            name_on_the_network(typed)


def test_what_is_served_is_read_back_where_the_network_is_on(tmp_path: Path) -> None:
    write_served(tmp_path / FOLDER, SERVED)
    assert served_by_now(tmp_path, {VARIABLE: "1"}) == SERVED
    assert served_by_now(tmp_path, {}) is None
    (tmp_path / FOLDER / "served.json").write_text("{")
    assert served_by_now(tmp_path, {VARIABLE: "1"}) is None


def test_addresses_are_whole_and_a_new_tablet_begins_by_number() -> None:
    assert SERVED.shop_addresses == ["https://192.168.1.5:8000/", "https://workshop.local:8000/"]
    assert SERVED.page_address == "http://192.168.1.5:8080/"
    assert SERVED.origins == ["https://workshop.local:8000", "https://192.168.1.5:8000"]
    assert Served(("a.local",), ("a.local",), 443, 80, "").shop_addresses == ["https://a.local/"]
