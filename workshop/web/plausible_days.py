"""How far from today a day that somebody types may lie, and what is said of one that must be a slip.

The bounds are the house's own; they keep out slips of the year (2002, 2099), not bad judgement.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum

from django.core.exceptions import ValidationError
from django.utils import timezone

_YEAR = 366


@dataclass(frozen=True)
class Reach:
    """Days back and ahead that are plausible, and what is said beyond them."""

    back: int
    ahead: int
    too_early: str
    too_late: str
    ask_beyond: int | None = None


_LONG_AGO = "That day is too long ago to be meant. Look at the year."
_TO_COME = "That day is still to come."
_FAR = "That day is too far ahead to be meant. Look at the year."


class DayKind(Enum):
    """What a typed day is of."""

    PROMISED = Reach(0, 2 * _YEAR, "That day is over. Promise today or a later day.", _FAR, ask_beyond=92)
    HAPPENED = Reach(50 * _YEAR, 0, _LONG_AGO, _TO_COME)
    EXPECTED = Reach(2 * _YEAR, 2 * _YEAR, _LONG_AGO, _FAR)
    PUT_OFF = Reach(-1, 3 * _YEAR, "Choose a day that is still to come.", _FAR)
    CLOSED = Reach(_YEAR, 3 * _YEAR, _LONG_AGO, _FAR)
    HOLDS_UNTIL = Reach(50 * _YEAR, 20 * _YEAR, _LONG_AGO, _FAR)


def refuse_day(field: str, day: dt.date, kind: DayKind, *, kept: dt.date | None = None) -> None:
    """Refuse a day that cannot be meant, beside its field. A day that is `kept` as it was stored is not judged again.

    Raises:
        ValidationError: the day lies before or after what is plausible of its kind.
    """
    reach, away = kind.value, (day - timezone.localdate()).days
    if day == kept or -reach.back <= away <= reach.ahead:
        return
    raise ValidationError({field: reach.too_early if away < -reach.back else reach.too_late})


def is_asked_about(day: dt.date, kind: DayKind, *, kept: dt.date | None = None) -> bool:
    """Whether the day is possible but so far ahead that a form asks once more."""
    beyond = kind.value.ask_beyond
    return beyond is not None and day != kept and (day - timezone.localdate()).days > beyond
