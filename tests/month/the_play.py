"""The played month: its clock, what was said of promises on each day, and the order of a day."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.core.cache import cache

from tests.month.the_shop import MonthShop
from workshop.models import Ticket
from workshop.promise.honest import promises_in_danger

FIRST_DAY = dt.date(2026, 3, 2)  # a Monday; the month has a change of the clocks and no meaning beyond that
OPENS = dt.time(8)


@dataclass
class Clock:
    """It stands still unless somebody moves it on."""

    now: dt.datetime = field(default_factory=lambda: dt.datetime.combine(FIRST_DAY, OPENS, dt.UTC))

    def __call__(self) -> dt.datetime:
        return self.now

    def begin(self, day: dt.date) -> None:
        self.now = dt.datetime.combine(day, OPENS, dt.UTC)

    def wait(self, minutes: float) -> None:
        self.now += dt.timedelta(minutes=minutes)

    @property
    def today(self) -> dt.date:
        return self.now.date()


@dataclass
class Job:
    """A ticket as the play knows it: what is wrong, how far the step in hand is, and what its tax will be."""

    ticket_pk: int
    cause: str = ""
    is_service: bool = False
    asks_first: bool = False
    estimate_pk: int | None = None
    says_no: bool = False
    answered: bool = False
    minutes_into: float = 0.0


@dataclass
class Play:
    """What the parts of the play share; everything by chance comes from `chance`."""

    made: MonthShop
    clock: Clock
    chance: random.Random
    most_tickets: int
    per_day: Sequence[int]
    jobs: dict[int, Job] = field(default_factory=dict)
    said: dict[dt.date, set[int]] = field(default_factory=lambda: defaultdict(set))
    struck: dict[dt.date, set[int]] = field(default_factory=lambda: defaultdict(set))
    rates: dict[int, tuple[Decimal, Decimal]] = field(default_factory=dict)
    charged: dict[int, int] = field(default_factory=dict)
    broken: list[int] = field(default_factory=list)
    days: list[dt.date] = field(default_factory=list)
    done: dict[str, int] = field(default_factory=lambda: defaultdict(int))

    @property
    def today(self) -> dt.date:
        return self.clock.today

    def id(self) -> uuid.UUID:
        return uuid.UUID(int=self.chance.getrandbits(128), version=4)

    def begin(self, day: dt.date) -> None:
        """The morning: what was learned is read anew, as after ten minutes, and the screens are looked at."""
        self.clock.begin(day)
        self.days.append(day)
        cache.clear()
        self.look()

    def look(self) -> None:
        """What the screens say of promises now: in the morning, and after whatever may have changed it."""
        marked = promises_in_danger(self.made.shop, self.today)
        self.said[self.today] |= {one.ticket_pk for one in marked if one.kind == "ahead"}

    def strike(self, tickets: Iterable[int]) -> None:
        """Something happens to tickets today that nobody could say before."""
        self.struck[self.today] |= set(tickets)

    def check_promises(self) -> None:
        """No promise of today is broken that was not marked on the last open day before, unless something struck it."""
        late = Ticket.objects.filter(
            shop=self.made.shop, promised_on__lte=self.today, state__in=["booked_in", "on_the_bench", "waiting"]
        ).exclude(pk__in=self.broken)
        for ticket in late:
            self.broken.append(ticket.pk)
            before = max((day for day in self.said if day < ticket.promised_on), default=None)
            was_marked = before is not None and ticket.pk in self.said[before]
            struck = any(ticket.pk in self.struck[day] for day in self.days if day >= (before or day))
            self.done["broken, marked" if was_marked else "broken, struck"] += 1
            assert was_marked or struck, (
                f"ticket {ticket.number}, promised {ticket.promised_on}, {ticket.state} {ticket.waiting_for}, was not "
                f"marked on {before}"
            )
