"""The shop's name on the network, answered by multicast DNS (RFC 6762): workshop.local."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import zeroconf
from zeroconf import AddressResolverIPv4  # type: ignore[attr-defined]  # only not in its __all__

KIND = "_https._tcp.local."
ANSWERS_WITHIN_MS = 3000  # a name is repeated once a second at most (RFC 6762, 6)


def who_has(name: str, *, interfaces: Sequence[str], within_ms: int = ANSWERS_WITHIN_MS) -> list[str]:
    """IPv4 addresses that answer to `name`.local in the network now. Raises OSError where nobody can be asked."""
    asking = zeroconf.Zeroconf(interfaces=list(interfaces), ip_version=zeroconf.IPVersion.V4Only)
    try:
        resolver = AddressResolverIPv4(f"{name}.local.")
        resolver.request(asking, within_ms)
        return sorted(resolver.parsed_addresses())
    finally:
        asking.close()


@contextmanager
def announced(name: str, addresses: Sequence[str], port: int) -> Iterator[None]:
    """Meanwhile `name`.local is answered with these addresses. Raises OSError where there is no multicast."""
    voice = zeroconf.Zeroconf(interfaces=list(addresses), ip_version=zeroconf.IPVersion.V4Only)
    try:
        voice.register_service(
            zeroconf.ServiceInfo(
                KIND,
                f"Suspension Workshop {name}.{KIND}",
                addresses=[socket.inet_aton(address) for address in addresses],
                port=port,
                server=f"{name}.local.",
            ),
            allow_name_change=True,
        )
        yield
    finally:
        with contextlib.suppress(OSError, zeroconf.Error):
            voice.unregister_all_services()
        voice.close()
