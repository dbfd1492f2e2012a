"""Under which names and addresses this machine is reached in the shop's network."""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Iterable

import ifaddr

from workshop.shop_network.authority import is_local

USUAL_NAME = "workshop"
_LABEL = re.compile(r"(?!-)[a-z0-9-]{1,63}(?<!-)", re.ASCII)
# Networks inside this machine, of containers and virtual machines: no tablet is in one.
_INSIDE = ("docker", "br-", "veth", "virbr", "lxc", "podman", "cni")
_EVERYWHERE = ("0.0.0.0", "::")  # noqa: S104  only compared


def name_on_the_network(typed: str) -> str:
    """A name in one spelling, without `.local`. Raises ValueError in words."""
    name = typed.strip().lower().removesuffix(".local")
    if not _LABEL.fullmatch(name):
        raise ValueError(
            f"“{typed}” cannot be a name on the network: letters a to z, digits and hyphens, as in {USUAL_NAME}."
        )
    return name


def local_addresses(listening_on: str) -> list[str]:
    """IPv4 addresses at which a server on `listening_on` is reached, the likeliest first.

    Raises ValueError in words for an address that the authority cannot vouch for.
    """
    if listening_on not in _EVERYWHERE:
        if listening_on != "localhost" and not (_is_ipv4(listening_on) and is_local(listening_on)):
            raise ValueError(
                f"{listening_on} is no IPv4 address of a local network (10…, 172.16… to 172.31…, 192.168…): the shop’s "
                "own certificate is good for those only. Leave --address out, or use a proxy that does TLS."
            )
        return ["127.0.0.1" if listening_on == "localhost" else listening_on]
    found = [
        str(address.ip)
        for adapter in ifaddr.get_adapters()
        if not adapter.nice_name.startswith(_INSIDE)
        for address in adapter.ips
        if address.is_IPv4 and is_local(str(address.ip)) and not ipaddress.ip_address(str(address.ip)).is_loopback
    ]
    outward = _outward()
    return sorted(dict.fromkeys(found), key=lambda address: address != outward)


def hosts_for(addresses: Iterable[str], name: str) -> list[str]:
    """All names and addresses that the shop answers to, by its name first."""
    machine = socket.gethostname().partition(".")[0].lower()
    names = [f"{name}.local", *([f"{machine}.local"] if _LABEL.fullmatch(machine) else []), "localhost"]
    return list(dict.fromkeys([*names, *addresses, "127.0.0.1"]))


def _is_ipv4(address: str) -> bool:
    try:
        return isinstance(ipaddress.ip_address(address), ipaddress.IPv4Address)
    except ValueError:
        return False


def _outward() -> str:
    """The address of the way out, where there is one: nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("10.255.255.255", 1))
            return str(probe.getsockname()[0])
        except OSError:
            return ""
