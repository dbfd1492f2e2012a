"""When a part that is not there will be, and why then. No Django."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from workshop.stock.sharing import ExpectedDelivery


@dataclass(frozen=True)
class Arrival:
    """The day a part can be here, and the reason, as “Wiper, 36 mm takes 6 days to come”.

    `order_number` is of the order it comes with, 0 where it is still to be ordered; `of` what it is: the key of a part,
    or words where it is none of the list.
    """

    day: dt.date
    reason: str
    order_number: int = 0
    of: int | str = ""


def to_be_ordered(title: str, lead_days: int | None, today: dt.date, unknown_days: int) -> Arrival:
    """If it is ordered today."""
    days = unknown_days if lead_days is None else lead_days
    reckoned = ", as far as is known" if lead_days is None else ""
    return Arrival(today + dt.timedelta(days=days), f"{title} takes {_days(days)} to come{reckoned}")


def on_its_way(
    title: str, delivery: ExpectedDelivery, lead_days: int | None, today: dt.date, unknown_days: int
) -> Arrival:
    """With an order that is open. One that is overdue is reckoned with for tomorrow, and the reason says so."""
    expected, number = delivery.expected_on, delivery.order_number
    order = f"order {number}"
    if expected is None:
        days = unknown_days if lead_days is None else lead_days
        return Arrival(
            today + dt.timedelta(days=days), f"{title} is in {order}, and nobody knows when that comes", number
        )
    if expected < today:
        return Arrival(
            today + dt.timedelta(days=1), f"{title} is overdue with {order}, expected {_day(expected, today)}", number
        )
    return Arrival(expected, f"{title} comes with {order}, expected {_day(expected, today)}", number)


def _day(day: dt.date, today: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b}{'' if day.year == today.year else f' {day.year}'}"


def _days(count: int) -> str:
    return "one day" if count == 1 else f"{count} days"
