"""Which backups are kept: close together when new, further apart with age, none beyond the limit."""

from __future__ import annotations

import datetime as dt
import itertools
import os
from pathlib import Path

from workshop.running.keeping import Keep, drop_old, made_at, name_of, to_drop

NOW = dt.datetime(2026, 11, 25, 3, 0, tzinfo=dt.UTC)


def nightly(days: int) -> list[str]:
    return [name_of(NOW - dt.timedelta(days=age)) for age in range(days)]


def kept_of(names: list[str]) -> list[str]:
    return sorted(set(names) - set(to_drop(names, Keep(), NOW)), reverse=True)


def test_a_name_says_when() -> None:
    assert name_of(NOW) == "shop-2026-11-25-030000Z.zip"
    assert made_at(name_of(NOW, "upgrade")) == NOW
    assert made_at("shop-2026-11-25-030000Z.zip.encrypted") == NOW
    assert made_at("shop-2026-11-25-030000Z.zip.part") is None
    assert made_at("shop-2026-13-25-030000Z.zip") is None


def test_two_years_of_nights_come_down_to_days_weeks_and_months() -> None:
    kept = kept_of(nightly(730))
    assert kept[:14] == nightly(14)
    ages = [(NOW - (made_at(name) or NOW)).days for name in kept]
    assert max(ages) <= 12 * 31
    assert len([age for age in ages if age > 14]) <= 8 + 12
    assert max(later - earlier for earlier, later in itertools.pairwise(ages)) <= 31


def test_nothing_of_the_last_two_days_is_dropped() -> None:
    hourly = [name_of(NOW - dt.timedelta(hours=age)) for age in range(48)]
    assert kept_of(hourly) == hourly


def test_the_newest_stays_however_old_it_is() -> None:
    old = [name_of(NOW - dt.timedelta(days=age)) for age in (900, 901)]
    assert kept_of(old) == old[:1]


def test_a_clock_set_back_drops_nothing_newer() -> None:
    ahead = [name_of(NOW + dt.timedelta(days=age)) for age in (1, 2, 3)]
    assert to_drop(ahead, Keep(), NOW) == []


def test_a_clock_that_jumps_ahead_for_two_years_leaves_more_than_its_own_backup() -> None:
    jumped = NOW + dt.timedelta(days=730)
    names = [name_of(jumped), *nightly(400)]
    dropped = set(to_drop(names, Keep(), jumped))
    left = [name for name in names if name not in dropped]
    assert left[0] == name_of(jumped)
    assert nightly(1)[0] in left
    assert len(left) >= 10


def test_only_backups_are_dropped(tmp_path: Path) -> None:
    for name in (*nightly(3), "letter.txt", "shop-old.zip", name_of(NOW - dt.timedelta(days=800))):
        (tmp_path / name).touch()
    draft = tmp_path / ".shop-2026-11-20-030000Z.zip.part"
    draft.touch()
    os.utime(draft, (NOW.timestamp() - 5 * 86400,) * 2)
    assert drop_old(tmp_path, Keep(), NOW) == [name_of(NOW - dt.timedelta(days=800))]
    assert not draft.exists()
    assert (tmp_path / "letter.txt").exists()
    assert (tmp_path / "shop-old.zip").exists()
