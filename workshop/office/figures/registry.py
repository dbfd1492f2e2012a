"""The figures of the Office by the key in their address: what each is called, asks, and how it is made."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from django.utils import timezone

from workshop.office.figures import sources
from workshop.office.figures.bench_minutes import bench_minutes
from workshop.office.figures.causes import causes_over_time
from workshop.office.figures.come_backs import come_backs
from workshop.office.figures.day_load import day_load
from workshop.office.figures.load import load_figure
from workshop.office.figures.money import money_figure
from workshop.office.figures.period import Period
from workshop.office.figures.promises import promises
from workshop.office.figures.service_life import service_life
from workshop.office.figures.sheet import Figure
from workshop.office.figures.shortages import shortages
from workshop.office.figures.turnaround import turnaround
from workshop.office.figures.visits import TicketTimes
from workshop.promise.capacity import bench_of, capacity_of
from workshop.staff.models import Shop
from workshop.stock.shortages import stores_standing
from workshop.work.event_words import state_in_words


class FigureAsked:
    """A shop and a period; what several figures need is fetched once."""

    def __init__(self, shop: Shop, period: Period) -> None:
        self.shop, self.period = shop, period
        self.now = timezone.localtime()

    @property
    def today(self) -> dt.date:
        return self.now.date()

    @cached_property
    def visits(self) -> list[TicketTimes]:
        return sources.visits_of(self.shop, self.period)

    @cached_property
    def causes(self) -> Mapping[int, frozenset[str]]:
        return sources.causes_of_tickets(self.shop, self.period)


@dataclass(frozen=True)
class FigureKind:
    """A figure the owner can open. `is_quick`: its headline is shown on the page of all figures.

    `usual_months` is the period until the owner chooses one.
    """

    key: str
    title: str
    asks: str
    make: Callable[[FigureAsked], Figure]
    has_period: bool = True
    is_quick: bool = True
    usual_months: int = 12


def _load(asked: FigureAsked) -> Figure:
    bench = bench_of(capacity_of(asked.shop), asked.today)
    return load_figure(sources.queued_work(asked.shop), bench, asked.today)


def _day_load(asked: FigureAsked) -> Figure:
    bench = bench_of(capacity_of(asked.shop), asked.today)
    jobs, names = sources.dealt_work(asked.shop)
    return day_load(jobs, bench, names, asked.today)


def _causes(asked: FigureAsked) -> Figure:
    complaints = sources.complaints_booked(asked.shop, asked.period)
    return causes_over_time(asked.visits, complaints, asked.causes, asked.period)


_KINDS = (
    FigureKind(
        "turnaround",
        "Turnaround",
        "How long does a unit stay with us?",
        lambda asked: turnaround(asked.visits, asked.period, state_in_words),
    ),
    FigureKind(
        "promises",
        "Promises kept",
        "Was it ready on the day we said?",
        lambda asked: promises(asked.visits, asked.period, asked.today),
    ),
    FigureKind(
        "come-backs",
        "Come-backs",
        "What came back within 90 days, and after which repair?",
        lambda asked: come_backs(asked.visits, asked.causes, asked.period, asked.now),
        is_quick=False,
    ),
    FigureKind("causes", "Complaints and causes", "What comes in, and what is behind it?", _causes, is_quick=False),
    FigureKind(
        "minutes",
        "Minutes by step",
        "Which steps take longer than the checklist plans?",
        lambda asked: bench_minutes(sources.step_minutes_of(asked.shop, asked.period)),
        is_quick=False,
    ),
    FigureKind(
        "money",
        "Revenue",
        "What did we charge, month by month?",
        lambda asked: money_figure(
            sources.charges_of_period(asked.shop, asked.period), asked.period, asked.shop.currency, asked.shop.country
        ),
    ),
    FigureKind("load", "Workload", "Have we promised more than we can do?", _load, has_period=False),
    FigureKind(
        "days", "Workload by day", "Who has how much on which day?", _day_load, has_period=False, is_quick=False
    ),
    FigureKind(
        "shortages",
        "Shortages",
        "Which parts hold work up?",
        lambda asked: shortages(
            sources.shortages_in(stores_standing(asked.shop, with_quiet_items=False)),
            sources.likely_shortages(asked.shop),
        ),
        has_period=False,
    ),
    FigureKind(
        "service-life",
        "Service life",
        "How many ride hours do seals, springs and oil last?",
        lambda asked: service_life(asked.shop, asked.period, asked.today),
        is_quick=False,
        usual_months=36,
    ),
)
FIGURES: Mapping[str, FigureKind] = {kind.key: kind for kind in _KINDS}
