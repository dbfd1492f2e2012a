"""Where a shop that is served to its network answers, as its server wrote it down (`workshop/shop_network/served.py`).

Only the standard library: it runs before anything is installed.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Reached:
    """Addresses of the shop, the likeliest first, and that of the page where a new device begins."""

    shop: tuple[str, ...]
    new_device: str


def reached_in(data: Path) -> Reached | None:
    """Of the shop with this folder of data; None while its server did not write it down."""
    try:
        found = json.loads((data / "network" / "served.json").read_text())
        port, page_port, shown = int(found["port"]), int(found["page_port"]), [str(host) for host in found["shown"]]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    if not shown:
        return None
    numbers = [host for host in shown if not host.endswith(".local")]
    first = (numbers or shown)[0]
    return Reached(tuple(f"https://{host}:{port}/" for host in shown), f"http://{first}:{page_port}/")
