"""The due list: which units want a service, why, and whether their owner may be reminded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db.models import Exists, Manager, OuterRef, Prefetch, QuerySet

from workshop.customers.models import Customer
from workshop.intervals.forecast import Forecast, Standing
from workshop.intervals.models import Level
from workshop.intervals.standing import standings_of
from workshop.reminders.models import Decision, RemindedService
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.units.models import Fitting, SuspensionUnit

_URGENCY = {standing: place for place, standing in enumerate(Standing)}
DueKey = tuple[int, str, dt.date]
Row = TypeVar("Row", RemindedService, Decision)


@dataclass(frozen=True)
class DueRow:
    """A unit with the services that are due or coming up, the most urgent first."""

    unit: SuspensionUnit
    customer: Customer
    bike: str
    forecasts: Sequence[Forecast]
    decisions: Sequence[Decision] = ()

    @property
    def first(self) -> Forecast:
        return self.forecasts[0]

    @property
    def standing(self) -> Standing:
        return self.first.standing

    @property
    def may_remind(self) -> bool:
        return self.customer.agreed_to_reminders

    @property
    def channels(self) -> list[str]:
        """How the customer can be reminded, the preferred way first."""
        ways = [way for way, has in (("email", self.customer.email), ("letter", self.customer.address)) if has]
        return sorted(ways, key=lambda way: way != self.customer.preferred_contact)

    @property
    def service_words(self) -> str:
        """What is due first: “lowers service”."""
        return Level(self.first.level).label.lower()

    @property
    def others(self) -> Sequence[Forecast]:
        """Further services that are due or coming up."""
        return self.forecasts[1:]

    @property
    def keys(self) -> list[DueKey]:
        return [(self.unit.pk, forecast.level, forecast.counted_from) for forecast in self.forecasts]


@dataclass(frozen=True)
class DueList:
    """What to decide on, and what was put off or skipped."""

    rows: Sequence[DueRow]
    put_off: Sequence[DueRow]

    def standing(self, standing: Standing) -> list[DueRow]:
        return [row for row in self.rows if row.standing == standing]

    @property
    def counts(self) -> Mapping[str, int]:
        return {standing.value: len(self.standing(standing)) for standing in Standing}


def due_list(shop: Shop, today: dt.date) -> DueList:
    """Every unit of the shop that wants a service and is not in the shop already, in a fixed number of queries."""
    return _list_of(_units(shop), shop, today)


def due_row(shop: Shop, unit_pk: int, today: dt.date) -> DueRow | None:
    """The row of one unit, also one that was put off; None where nothing of it is due or it was told already."""
    found = _list_of(_units(shop).filter(pk=unit_pk), shop, today, unit_pk)
    return next(iter([*found.rows, *found.put_off]), None)


def _units(shop: Shop) -> QuerySet[SuspensionUnit]:
    in_the_shop = Ticket.objects.open().filter(unit=OuterRef("pk"))
    fitted = Prefetch("fittings", Fitting.objects.filter(until__isnull=True).select_related("bike"), to_attr="fitted")
    return (
        SuspensionUnit.objects.filter(shop=shop, customer__erasure__isnull=True)
        .exclude(Exists(in_the_shop))
        .select_related("model", "customer")
        .prefetch_related(fitted)
    )


def _list_of(units: QuerySet[SuspensionUnit], shop: Shop, today: dt.date, unit_pk: int | None = None) -> DueList:
    standings = standings_of(units, shop, today)
    told = set(_of_these(RemindedService.objects, shop, unit_pk).values_list("unit_id", "level", "counted_from"))
    decided = {
        (row.unit_id, row.level, row.counted_from): row
        for row in _of_these(Decision.objects, shop, unit_pk).select_related("by")
    }
    rows, put_off = [], []
    for standing in standings:
        wanting = [
            forecast
            for forecast in standing.forecasts
            if forecast.standing != Standing.LATER
            and (standing.unit.pk, forecast.level, forecast.counted_from) not in told
        ]
        open_ones, waiting, decisions = [], [], []
        for forecast in sorted(wanting, key=lambda one: (_URGENCY[one.standing], one.due)):
            decision = decided.get((standing.unit.pk, forecast.level, forecast.counted_from))
            if decision is not None and (decision.snoozed_until is None or decision.snoozed_until > today):
                waiting.append(forecast)
                decisions.append(decision)
            else:
                open_ones.append(forecast)
        if open_ones:
            rows.append(_row(standing.unit, open_ones))
        elif waiting:
            put_off.append(_row(standing.unit, waiting, decisions))
    order = lambda row: (_URGENCY[row.standing], row.first.due, row.unit.pk)  # noqa: E731
    return DueList(sorted(rows, key=order), sorted(put_off, key=order))


def _of_these(rows: Manager[Row], shop: Shop, unit_pk: int | None) -> QuerySet[Row]:
    return rows.filter(unit__shop=shop) if unit_pk is None else rows.filter(unit=unit_pk)


def _row(unit: SuspensionUnit, forecasts: Sequence[Forecast], decisions: Sequence[Decision] = ()) -> DueRow:
    fitted: list[Fitting] = unit.fitted  # type: ignore[attr-defined]
    return DueRow(unit, unit.customer, str(fitted[0].bike) if fitted else "", forecasts, decisions)
