"""A stretch of a list that may be very long: it is read from a key on, never counted and never skipped through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from django.db.models import Model, QuerySet

Row = TypeVar("Row", bound=Model)


@dataclass(frozen=True)
class Stretch(Generic[Row]):
    """Some rows of a list, the key from which the next stretch goes on (None at the end), and whether rows precede."""

    object_list: Sequence[Row]
    next_key: int | None
    is_later: bool


def stretch_of(rows: QuerySet[Row], length: int, *, key: Callable[[Row], int], is_later: bool) -> Stretch[Row]:
    """The first `length` of rows that begin at the wanted place already."""
    found = list(rows[: length + 1])
    goes_on = len(found) > length
    found = found[:length]
    return Stretch(found, key(found[-1]) if goes_on else None, is_later)
