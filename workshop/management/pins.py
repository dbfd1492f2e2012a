"""What the locks in .requirements pin, and what differs between two of them. No Django."""

from __future__ import annotations

import json
import re
from base64 import b64decode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

# In this order: whatever a shop runs on, or may run on, comes first.
LOCKS = ("shop", "metrics", "bucket", "tests", "audit")
_OF_A_SHOP = {"shop", "metrics", "bucket"}
_PIN = re.compile(r"(?P<name>[A-Za-z0-9._-]+)(?:\[[^]]*])?==(?P<version>[^\s;\\]+)")
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


@dataclass(frozen=True)
class Pin:
    """One release: its name, version, the SHA-256 of each of its files, and whether a shop runs on it, or one may."""

    name: str
    version: str
    sha256: tuple[str, ...]
    in_shop: bool

    @property
    def key(self) -> tuple[str, str]:
        return self.name, self.version


def read_pins(folder: Path) -> list[Pin]:
    """Each pinned release of all locks once, by name; one that a shop and its tests use counts as the shop's."""
    found: dict[tuple[str, str], Pin] = {}
    for lock in LOCKS:
        for entry in entries(folder / f"{lock}.lock"):
            if pinned := _PIN.match(entry):
                pin = Pin(pinned["name"], pinned["version"], tuple(_HASH.findall(entry)), lock in _OF_A_SHOP)
                found.setdefault(pin.key, pin)
    return sorted(found.values(), key=lambda pin: pin.key)


def entries(lock: Path) -> list[str]:
    """The lines of each pin together with their hashes; none where there is no lock yet."""
    return re.split(r"\n(?=\S)", lock.read_text()) if lock.exists() else []


@dataclass(frozen=True)
class ScriptTool:
    """A package that checks the scripts: pinned in .tools/package-lock.json with its SHA-512 and its licence."""

    name: str
    version: str
    sha512: str
    licence: str


def read_script_tools(lock: Path) -> list[ScriptTool]:
    packages: Mapping[str, Mapping[str, str]] = json.loads(lock.read_text())["packages"]
    return [
        ScriptTool(
            path.removeprefix("node_modules/"),
            said["version"],
            b64decode(said["integrity"].removeprefix("sha512-")).hex(),
            said.get("license", ""),
        )
        for path, said in sorted(packages.items())
        if path
    ]


def changes(before: Iterable[Pin], after: Iterable[Pin], licence_of: Mapping[tuple[str, str], str]) -> list[str]:
    """What a new lock changes, a line a package: old and new versions, and the licence of the new ones."""
    old, new = _versions(before), _versions(after)
    lines = []
    for name in sorted(old.keys() | new.keys()):
        was, now = old.get(name, []), new.get(name, [])
        if was == now:
            continue
        licences = " / ".join(dict.fromkeys(licence_of.get((name, version)) or "licence unknown" for version in now))
        became = f"{', '.join(now)} ({licences})" if now else "gone"
        lines.append(f"{name} {', '.join(was) or 'new'} → {became}")
    return lines


def _versions(pins: Iterable[Pin]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for pin in pins:
        found.setdefault(pin.name, []).append(pin.version)
    return found
