"""A line of the owner's page about the system, and how long ago something was."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True)
class SystemFact:
    """Something about the system in words; `todo` says what wants doing, empty where nothing does."""

    label: str
    value: str
    note: str = ""
    todo: str = ""
    route: str = ""


def ago(age: dt.timedelta) -> str:
    hours = max(0, round(age.total_seconds() / 3600))
    if hours < 1:
        return "Just now"
    if hours < 48:
        return f"{hours} hour{'' if hours == 1 else 's'} ago"
    return f"{hours // 24} days ago"
