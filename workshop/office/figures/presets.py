"""Periods that are asked for often, to choose with one press. No Django."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from urllib.parse import urlencode

from workshop.office.figures.period import Period, last_months


@dataclass(frozen=True)
class Preset:
    """A period with its words and its place in an address."""

    words: str
    query: str
    is_chosen: bool


def presets(today: dt.date, chosen: Period) -> list[Preset]:
    """The usual choices, the one that is shown marked."""
    named = (
        ("Three months", last_months(today, 3)),
        ("Twelve months", last_months(today)),
        ("Two years", last_months(today, 24)),
        ("This year", Period(today.replace(month=1, day=1), today)),
        ("Last year", Period(dt.date(today.year - 1, 1, 1), dt.date(today.year - 1, 12, 31))),
    )
    return [
        Preset(
            words,
            urlencode({"first": period.first.isoformat(), "last": period.last.isoformat()}),
            period == chosen,
        )
        for words, period in named
    ]
