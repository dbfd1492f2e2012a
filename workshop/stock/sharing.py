"""Sharing out what is there and what is on order among the tickets that want it. No Django."""

from __future__ import annotations

import datetime as dt
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Want:
    """What one line of a ticket wants of a part, and for which promise.

    `given_at` is when somebody gave it the part before all others, `behind` that its ticket waits too long to keep it,
    `expected` that it stands on no ticket yet.
    """

    ticket_pk: int
    number: int
    promised_on: dt.date
    quantity: Decimal
    line_pk: int = 0
    given_at: dt.datetime | None = None
    behind: bool = False
    expected: bool = False

    @property
    def turn(self) -> tuple[bool, float, bool, dt.date, int]:
        """In which order wants take: what was given by hand first, the newest word before the older ones."""
        given = -self.given_at.timestamp() if self.given_at is not None else 0.0
        return self.expected, given, self.behind, self.promised_on, self.number


@dataclass(frozen=True)
class ExpectedDelivery:
    """What is still to come of an order, and the day it is expected; None where nobody knows."""

    quantity: Decimal
    expected_on: dt.date | None = None
    order_number: int = 0


@dataclass(frozen=True)
class Share:
    """What of a want is there, what is on its way, and what is missing; together they are the want.

    `last_delivery` is the last one that it takes from, None where nothing of it is on its way.
    """

    want: Want
    there: Decimal
    coming: Decimal
    missing: Decimal
    last_delivery: ExpectedDelivery | None = None

    @property
    def is_here(self) -> bool:
        return self.there == self.want.quantity


def share_out(level: Decimal, deliveries: Iterable[ExpectedDelivery], wants: Iterable[Want]) -> list[Share]:
    """In their turn: by promise, then by ticket number. First what is there, then the earliest delivery."""
    left = max(level, NOTHING)
    coming = deque((one, one.quantity) for one in sorted(deliveries, key=_by_day) if one.quantity > 0)
    shares = []
    for want in sorted(wants, key=lambda want: want.turn):
        there = min(left, want.quantity)
        left -= there
        lacking = want.quantity - there
        last: ExpectedDelivery | None = None
        while lacking and coming:
            last, open_quantity = coming.popleft()
            taken = min(open_quantity, lacking)
            lacking -= taken
            if open_quantity > taken:
                coming.appendleft((last, open_quantity - taken))
        shares.append(Share(want, there, want.quantity - there - lacking, lacking, last))
    return shares


def _by_day(delivery: ExpectedDelivery) -> tuple[dt.date, int]:
    """What is expected on no day comes last."""
    return delivery.expected_on or dt.date.max, delivery.order_number


def suggested_order(
    level: Decimal, on_order: Decimal, wanted: Decimal, reorder_level: Decimal, bottle: Decimal | None = None
) -> Decimal:
    """How much to order: what the tickets lack and, once the reorder mark is reached, up to twice that mark.

    What comes in bottles is ordered in whole ones.
    """
    left = level + on_order - wanted
    lacking = 2 * reorder_level - left if reorder_level > 0 and left <= reorder_level else max(-left, NOTHING)
    return lacking if bottle is None else (lacking / bottle).to_integral_value(ROUND_CEILING) * bottle
