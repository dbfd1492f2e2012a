"""Under which licence each pinned package may be used, and whether the project takes that. No Django.

A package says it itself, as an SPDX expression in its metadata. What says nothing, or only words such as “BSD”, has
a line in .requirements/licences.toml, read off the licence's own text. What has neither is unknown, and refused.
"""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import Distribution, distributions
from pathlib import Path
from typing import Any

from license_expression import ExpressionError, LicenseSymbol, get_spdx_licensing

from workshop.management.pins import Pin, entries

_SPDX = get_spdx_licensing()


@dataclass(frozen=True)
class ShippedFile:
    """A file of somebody else's that the shop hands out: path from the project's folder, and what it is."""

    path: str
    name: str
    version: str
    licence: str
    package: str  # where it has one, as `npm/NAME`


@dataclass(frozen=True)
class Licences:
    """What .requirements/licences.toml says."""

    allowed: frozenset[str]
    allowed_for_tools: frozenset[str]
    said: Mapping[str, str]
    shipped: tuple[ShippedFile, ...]


def read_licences(file: Path) -> Licences:
    told = tomllib.loads(file.read_text())
    shipped = [
        ShippedFile(path, one["name"], one["version"], one["licence"], one.get("package", ""))
        for one in told["shipped"]
        for path in one["files"]
    ]
    allowed = frozenset(told["allowed"])
    return Licences(allowed, allowed | frozenset(told["allowed_for_tools"]), told["said"], tuple(shipped))


def is_expression(text: str) -> bool:
    """Whether a text is an SPDX expression of licences that SPDX knows."""
    try:
        return bool(text) and _SPDX.parse(text, validate=True) is not None
    except (ExpressionError, AttributeError):  # the latter of what it cannot read, such as “Apache License, Version 2”
        return False


def may_be_used(expression: str, allowed: Iterable[str]) -> bool:
    """Whether some way of taking an SPDX expression needs only allowed licences."""
    return is_expression(expression) and _holds(_SPDX.parse(expression), frozenset(allowed))


def _holds(part: Any, allowed: frozenset[str]) -> bool:
    if isinstance(part, LicenseSymbol):
        return part.key in allowed
    held = [_holds(one, allowed) for one in part.args]
    return all(held) if isinstance(part, _SPDX.AND) else any(held)


def own_word(package: Distribution) -> str:
    """The licence that a package's metadata says as an SPDX expression, else nothing."""
    said = [one for key in ("License-Expression", "License") for one in package.metadata.get_all(key) or []]
    return next((str(one) for one in said if is_expression(str(one))), "")


def licences_of(
    pins: Iterable[Pin], said: Mapping[str, str], packages: Iterable[Distribution]
) -> dict[tuple[str, str], str]:
    """The licence of each pin, by name and version; empty where nobody says.

    A package's own word goes first. Where only another version of it is at hand, the table has to say it.
    """
    wanted = list(pins)
    names = {_plain(pin.name) for pin in wanted}
    known = {(name, one.version): own_word(one) for one in packages if (name := _plain(one.name)) in names}
    return {pin.key: known.get((_plain(pin.name), pin.version)) or said.get(pin.name, "") for pin in wanted}


def at_hand(pins: Iterable[Pin], locks: Iterable[Path], folder: Path) -> list[Distribution]:
    """The packages of this environment, and of the pins it lacks those that install into `folder`."""
    here = list(distributions())
    have = {(_plain(one.name), one.version) for one in here}
    lacking = {pin.key for pin in pins if (_plain(pin.name), pin.version) not in have}
    for lock in locks:  # each by itself: two locks may have one name in two versions
        chosen = [entry for entry in entries(lock) if _key(entry) in lacking]
        if not chosen:
            continue
        wanted, target = folder / f"{lock.stem}.txt", folder / lock.stem
        wanted.write_text("\n".join(chosen))
        # For the newest Python that is supported; what another machine alone would install is left out by its marker.
        command = [sys.executable, "-m", "uv", "pip", "install", "--quiet", "--no-deps", "--require-hashes"]
        command += ["--only-binary", ":all:", "--python-version", "3.13", "--target", str(target), "-r", str(wanted)]
        subprocess.run(command, check=False)  # noqa: S603  our own words; what is lacking then is unknown
        here += distributions(path=[str(target)])
    return here


def _key(entry: str) -> tuple[str, str]:
    name, _, rest = entry.partition("==")
    return name.partition("[")[0], rest.split()[0] if rest else ""


def _plain(name: str) -> str:
    return name.lower().replace("_", "-").replace(".", "-")
