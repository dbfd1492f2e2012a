"""Which backups to keep: all of two days, then one a day, one a week, one a month, and none beyond that."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

ALL_OF = dt.timedelta(hours=48)
LONGEST_GAP = dt.timedelta(days=31)
_NAME = re.compile(r"shop-(\d{4}-\d\d-\d\d-\d{6})Z(-before-[a-z]+)?\.zip(\.encrypted)?", re.ASCII)
_STAMP = "%Y-%m-%d-%H%M%S"


@dataclass(frozen=True)
class Keep:
    """For how many days, weeks and months the newest backup of each is kept."""

    days: int = 14
    weeks: int = 8
    months: int = 12


def name_of(made_at: dt.datetime, why: str = "") -> str:
    """The name of a backup; `why` tells one made before a restore or an upgrade."""
    return f"shop-{made_at.astimezone(dt.UTC).strftime(_STAMP)}Z{f'-before-{why}' if why else ''}.zip"


def made_at(name: str) -> dt.datetime | None:
    """When a backup was made, by its name; None for any other file."""
    found = _NAME.fullmatch(name)
    try:
        return dt.datetime.strptime(found[1], _STAMP).replace(tzinfo=dt.UTC) if found else None
    except ValueError:
        return None


def to_drop(names: Iterable[str], keep: Keep, now: dt.datetime) -> list[str]:
    """Names of the backups that are not kept. The newest of all always stays, whatever the clock says."""
    dated = sorted(((when, name) for name in names if (when := made_at(name)) is not None), reverse=True)
    aged = list(zip(dated, _ages([when for when, _ in dated], now), strict=True))
    kept = {name for when, name in dated[:1] or []} | {name for (_, name), age in aged if age <= ALL_OF}
    for count, age, period in (
        (keep.days, dt.timedelta(days=keep.days), "%Y-%m-%d"),
        (keep.weeks, dt.timedelta(weeks=keep.weeks), "%G-%V"),
        (keep.months, dt.timedelta(days=31 * keep.months), "%Y-%m"),
    ):
        newest: dict[str, str] = {}
        for (when, name), old in aged:
            if old <= age:
                newest.setdefault(when.strftime(period), name)
        kept.update(list(newest.values())[:count])
    return sorted(name for _, name in dated if name not in kept)


def _ages(moments: list[dt.datetime], now: dt.datetime) -> list[dt.timedelta]:
    """How old each is, the newest first.

    A long gap with more backups before it than after it is taken for a clock that jumped ahead, and counts as a month.
    """
    ages, age, later = [], dt.timedelta(0), now
    for newer, moment in enumerate(moments):
        gap = later - moment
        age += min(gap, LONGEST_GAP) if len(moments) - newer > newer else gap
        ages.append(age)
        later = moment
    return ages


def drop_old(folder: Path, keep: Keep, now: dt.datetime) -> list[str]:
    """Remove the backups that are not kept, and what a killed backup left; return the names of the backups."""
    dropped = to_drop((path.name for path in folder.iterdir()), keep, now)
    for name in dropped:
        (folder / name).unlink(missing_ok=True)
    for draft in folder.glob(".shop-*.zip*.part"):
        if now.timestamp() - draft.stat().st_mtime > ALL_OF.total_seconds() / 2:
            draft.unlink(missing_ok=True)
    return dropped
