"""What the shop is served as in its network: written by `serve`, read by the settings of each process of the server."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from workshop.secret import write_anew

FOLDER = "network"  # in DATA_DIR: authority, certificate, and this
FILE = "served.json"
VARIABLE = "SHOP_NETWORK"  # set by `serve --shop-network` for the server alone


@dataclass(frozen=True)
class Served:
    """Names and addresses (`hosts`, all of them; `shown`, those for people), ports, and the root's fingerprint."""

    hosts: tuple[str, ...]
    shown: tuple[str, ...]
    port: int
    page_port: int
    fingerprint: str

    @property
    def origins(self) -> list[str]:
        return [self.shop_at(host) for host in self.hosts]

    @property
    def shop_addresses(self) -> list[str]:
        """Addresses of the shop for people, the likeliest first."""
        return [f"{self.shop_at(host)}/" for host in self.shown]

    @property
    def page_address(self) -> str:
        """Where a new tablet begins; by number, for not every tablet knows names of the network."""
        numbers = [host for host in self.shown if not host.endswith(".local")]
        return f"http://{(numbers or self.shown)[0]}:{self.page_port}/"

    def shop_at(self, host: str) -> str:
        return f"https://{host}{'' if self.port == 443 else f':{self.port}'}"


def write_served(folder: Path, served: Served) -> None:
    write_anew(folder / FILE, json.dumps(asdict(served), indent=1).encode())


def served_by_now(data_dir: Path, environment: Mapping[str, str] = os.environ) -> Served | None:
    """What this process of the server is served as; None where the shop's network is not on."""
    if environment.get(VARIABLE) != "1":
        return None
    try:
        found = json.loads((data_dir / FOLDER / FILE).read_text())
        return Served(
            tuple(map(str, found["hosts"])),
            tuple(map(str, found["shown"])),
            int(found["port"]),
            int(found["page_port"]),
            str(found["fingerprint"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None
