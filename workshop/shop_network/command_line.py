"""What `serve --shop-network` cannot be told together, in words."""

from __future__ import annotations

from collections.abc import Mapping

EVERYWHERE = "0.0.0.0"  # noqa: S104  reached from the shop's network, and answered under local names only
PAGE_PORT = 8080
_ON = {"1", "true", "yes", "on"}  # as the settings read them


def refuse_what_contradicts(
    environment: Mapping[str, str], *, http: bool, certificate: object, key: object, port: int, page_port: int
) -> None:
    """Raises ValueError in words."""
    if http:
        raise ValueError("--shop-network and --http contradict each other: the shop's network is protected by TLS.")
    if certificate or key:
        raise ValueError("--shop-network makes its own certificate: leave --certificate and --key out, or it.")
    for name, wanted in (("HTTPS", True), ("BEHIND_PROXY", False)):
        said = environment.get(name, "")
        if said and (said.lower() in _ON) != wanted:
            raise ValueError(f"--shop-network does TLS itself: take {name}={said} out of the environment.")
    if port == page_port:
        raise ValueError("The shop and the page for a new tablet need two ports: choose another --port or --page-port.")
