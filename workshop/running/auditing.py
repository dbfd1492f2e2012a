"""What a look-up of the pinned packages among known faults found. What was not looked up is never called clean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

CLEAN, FAULTY, NOT_CHECKED = 0, 1, 3


@dataclass(frozen=True)
class Audit:
    """Packages with a known fault, in words; names of those without; and of those that nobody could say of."""

    faults: tuple[str, ...]
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
        if self.verdict == CLEAN:
            return looked_up
        if not self.checked and not self.faults:
            return "Not checked: no service that knows of faults answered. This says nothing about the packages."
        left = f" Not checked: {', '.join(self.not_checked)}." if self.not_checked else ""
        return looked_up + left


def read_report(report: Mapping[str, Any] | None) -> Audit:
    """From pip-audit's report in JSON; None where it gave none."""
    faults, checked, not_checked = [], [], []
    for package in (report or {}).get("dependencies", []):
        if "vulns" not in package:
            not_checked.append(str(package["name"]))
            continue
        checked.append(str(package["name"]))
        faults += [_in_words(package, fault) for fault in package["vulns"]]
    return Audit(tuple(faults), tuple(checked), tuple(not_checked))


def _in_words(package: Mapping[str, Any], fault: Mapping[str, Any]) -> str:
    mended = ", ".join(fault.get("fix_versions") or []) or "no version yet"
    return f"{package['name']} {package['version']}: {fault['id']}, mended in {mended}"
