"""What a look-up of the pinned packages among known faults found. What was not looked up is never called clean.

A fault that some version mends fails, unless .requirements/accepted-faults.toml lets it through with a reason and a
last day. One that no version mends is only told: nobody could do anything in a commit.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

CLEAN, FAULTY, NOT_CHECKED = 0, 1, 3


class BadException(ValueError):
    """The list of accepted faults cannot be read; its words say where."""


@dataclass(frozen=True)
class Accepted:
    """A fault that is let through: of which package, under any of its names, why, and up to which day."""

    package: str
    fault: str
    reason: str
    until: dt.date


def read_accepted(text: str) -> tuple[Accepted, ...]:
    """Raises BadException for an entry without package, name, reason or day."""
    try:
        told = tomllib.loads(text).get("fault", [])
    except tomllib.TOMLDecodeError as error:
        raise BadException(f"The list of accepted faults cannot be read: {error}") from None
    found = []
    for one in told:
        package, fault, reason = (str(one.get(key, "")).strip() for key in ("package", "id", "reason"))
        until = one.get("until")
        if not (package and fault and reason) or type(until) is not dt.date:
            raise BadException(f"An accepted fault needs package, id, reason and until (a day): {dict(one)}")
        found.append(Accepted(package, fault, reason, until))
    return tuple(found)


@dataclass(frozen=True)
class Audit:
    """Faults that fail and those only told, in words; names of packages without; and of those nobody could say of."""

    faults: tuple[str, ...]
    told: tuple[str, ...]
    checked: tuple[str, ...]
    not_checked: tuple[str, ...]

    @property
    def verdict(self) -> int:
        """FAULTY, NOT_CHECKED, or CLEAN where every package was looked up: the exit status of `manage.py audit`."""
        if self.faults:
            return FAULTY
        return NOT_CHECKED if self.not_checked or not self.checked else CLEAN

    @property
    def words(self) -> str:
        """The verdict in a line, with what is behind it."""
        looked_up = f"Known faults: {len(self.faults)}, in {len(self.checked)} packages looked up."
        if self.told:
            looked_up += f" Besides, only told: {len(self.told)}."
        if self.verdict == CLEAN:
            return looked_up
        if not self.checked and not self.faults:
            return "Not checked: no service that knows of faults answered. This says nothing about the packages."
        left = f" Not checked: {', '.join(self.not_checked)}." if self.not_checked else ""
        return looked_up + left


def read_report(report: Mapping[str, Any] | None, accepted: Iterable[Accepted], today: dt.date) -> Audit:
    """From pip-audit's report in JSON; None where it gave none."""
    faults: list[str] = []
    told: list[str] = []
    checked: list[str] = []
    not_checked: list[str] = []
    known = {(one.package.lower(), one.fault): one for one in accepted}
    for package in (report or {}).get("dependencies", []):
        if "vulns" not in package:
            not_checked.append(str(package["name"]))
            continue
        checked.append(str(package["name"]))
        for fault in package["vulns"]:
            names = [fault["id"], *(fault.get("aliases") or [])]
            let = next((known[key] for name in names if (key := (package["name"].lower(), name)) in known), None)
            fails, words = _judged(package, fault, let, today)
            (faults if fails else told).append(words)
    return Audit(tuple(faults), tuple(told), tuple(checked), tuple(not_checked))


def _judged(
    package: Mapping[str, Any], fault: Mapping[str, Any], let: Accepted | None, today: dt.date
) -> tuple[bool, str]:
    """Whether a fault fails, and it in a line."""
    mended = ", ".join(fault.get("fix_versions") or [])
    words = f"{package['name']} {package['version']}: {fault['id']}, mended in {mended or 'no version yet'}"
    if let and today <= let.until:
        return False, f"{words}; accepted until {let.until}: {let.reason}"
    if let:
        words += f"; it was accepted until {let.until}"
    return bool(mended or let), words
