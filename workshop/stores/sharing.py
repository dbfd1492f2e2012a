"""Sharing out what is there and what is on order among the tickets that want it. No Django."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Want:
    """What one line of a ticket wants of a part, and for which promise."""

    ticket_pk: int
    number: int
    promised_on: dt.date
    quantity: Decimal


@dataclass(frozen=True)
class Share:
    """What of a want is there, what is on its way, and what is missing; together they are the want."""

    want: Want
    there: Decimal
    coming: Decimal
    missing: Decimal

    @property
    def is_here(self) -> bool:
        return self.there == self.want.quantity


def share_out(level: Decimal, on_order: Decimal, wants: Iterable[Want]) -> list[Share]:
    """The earliest promise first, then the lower ticket number: first what is there, then what is on order."""
    left, coming_left = max(level, NOTHING), max(on_order, NOTHING)
    shares = []
    for want in sorted(wants, key=lambda want: (want.promised_on, want.number)):
        there = min(left, want.quantity)
        coming = min(coming_left, want.quantity - there)
        left, coming_left = left - there, coming_left - coming
        shares.append(Share(want, there, coming, want.quantity - there - coming))
    return shares


def suggested_order(
    level: Decimal, on_order: Decimal, wanted: Decimal, reorder_level: Decimal, bottle: Decimal | None = None
) -> Decimal:
    """How much to order: what the tickets lack and, once the reorder mark is reached, up to twice that mark.

    What comes in bottles is ordered in whole ones.
    """
    left = level + on_order - wanted
    lacking = 2 * reorder_level - left if reorder_level > 0 and left <= reorder_level else max(-left, NOTHING)
    return lacking if bottle is None else (lacking / bottle).to_integral_value(ROUND_CEILING) * bottle
