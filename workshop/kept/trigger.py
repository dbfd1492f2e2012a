"""A trigger as both databases know it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Trigger:
    """After `event` on `table`, for each row, do the statements."""

    name: str
    event: str
    table: str
    does: str
