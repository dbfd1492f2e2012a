"""What the terminal says of the shop in its network."""

from __future__ import annotations

import io

import segno

from workshop.shop_network.served import Served

# The server speaks TLS from the first byte and has no words for who does not: the browser shows an error of its own.
HTTPS_ONLY = (
    "Type https:// in front. Without it the browser asks by plain http, which is not answered here: it then shows an "
    "error of its own, such as “empty response” or “connection reset”."
)


def told_on_terminal(served: Served) -> str:
    """Addresses, the code for a new tablet, and the fingerprint to compare."""
    code = io.StringIO()
    segno.make(served.page_address, error="l", micro=False).terminal(out=code, border=2, compact=True)
    return "\n".join(
        (
            "The shop is at",
            *(f"  {address}" for address in served.shop_addresses),
            "",
            f"A new tablet or phone, once: {served.page_address} (plain http), or by this code",
            code.getvalue(),
            "It says what to do. The certificate it offers has the fingerprint (SHA-256)",
            f"  {served.fingerprint[:48]}",
            f"  {served.fingerprint[48:]}",
            HTTPS_ONLY,
        )
    )
