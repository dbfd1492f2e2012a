"""Where the count of one item stands, and whether it looks like a slip of the pen. No Django.

That a slip is mostly a nought too many, two figures swapped or bottles for millilitres is common practice, no
published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

_TENFOLD = Decimal(8)  # from eight times on it looks like a nought too many
_FEW_BOTTLES = Decimal(50)


class Stands(StrEnum):
    """What is known of an item in a stock-take."""

    NOT_COUNTED = "not_counted"
    SECOND = "second"  # a second person is still to count it
    DISAGREE = "disagree"
    SETTLED = "settled"


@dataclass(frozen=True)
class Counted:
    """One count: whose, how much, and what the stores showed at that moment."""

    by: int | None
    counted: Decimal
    level: Decimal

    @property
    def difference(self) -> Decimal:
        return self.counted - self.level


@dataclass(frozen=True)
class Standing:
    """Where an item stands; `count` is the newest, None where there is none."""

    stands: Stands
    count: Counted | None = None

    @property
    def difference(self) -> Decimal:
        """What is to be booked: nothing unless it is settled."""
        return self.count.difference if self.stands is Stands.SETTLED and self.count else Decimal(0)


def standing_of_count(counts: Sequence[Counted], *, by_two: bool) -> Standing:
    """From the counts of one item, oldest first. Whoever counts again replaces what they counted before.

    What moved between two counts moved the level too, so they agree when their differences do.
    """
    if not counts:
        return Standing(Stands.NOT_COUNTED)
    newest = counts[-1]
    if not by_two:
        return Standing(Stands.SETTLED, newest)
    other = next((one for one in reversed(counts) if one.by != newest.by), None)
    if other is None:
        return Standing(Stands.SECOND, newest)
    agree = other.difference == newest.difference
    return Standing(Stands.SETTLED if agree else Stands.DISAGREE, newest)


def doubt_of(counted: Decimal, level: Decimal, bottle_ml: Decimal | None = None) -> str:
    """Why a count looks like a slip, in a sentence; "" where it does not."""
    if counted == level:
        return ""
    if bottle_ml is not None and _is_bottles(counted, level, bottle_ml):
        return "That looks like bottles; this part is counted in ml."
    if level > 0 and counted >= _TENFOLD * level:
        return "That is many times what the stores show: a nought too many?"
    if counted > 0 and level >= _TENFOLD * counted:
        return "That is a small part of what the stores show: a figure too few?"
    if _swapped(counted, level):
        return "The same figures in another order: were two of them swapped?"
    return ""


def _is_bottles(counted: Decimal, level: Decimal, bottle_ml: Decimal) -> bool:
    whole = counted == counted.to_integral_value() and 0 < counted <= _FEW_BOTTLES
    return whole and counted < bottle_ml and level >= bottle_ml / 2 and abs(counted * bottle_ml - level) <= bottle_ml


def _swapped(counted: Decimal, level: Decimal) -> bool:
    ours, theirs = (f"{one.normalize():f}" for one in (counted, level))
    return len(ours) == len(theirs) and sorted(ours) == sorted(theirs)
