"""The due list: which units want a service, why, and whether their owner may be reminded."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from workshop.customers.models import Customer
from workshop.intervals.forecast import Forecast, ServiceStanding
from workshop.intervals.models import Level
from workshop.intervals.standing import UnitStanding, standings_of
from workshop.reminders.models import Decision, RemindedService
from workshop.staff.models import Shop
from workshop.suspension.models import Fitting, SuspensionUnit
from workshop.tickets.models import Ticket

_URGENCY = {standing: place for place, standing in enumerate(ServiceStanding)}
DueKey = tuple[int, str, dt.date]


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
    def standing(self) -> ServiceStanding:
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
    """What to decide on, and what was put off or skipped; the most urgent first."""

    rows: Sequence[DueRow]
    put_off: Sequence[DueRow]


@dataclass(frozen=True)
class Wanting:
    """A unit with all its services that were not told yet, also those that are not due for long."""

    standing: UnitStanding
    untold: Sequence[Forecast]
    decisions: Mapping[tuple[str, dt.date], Decision]

    def split(self, today: dt.date) -> tuple[list[Forecast], list[tuple[Forecast, Decision]]]:
        """What is due or coming up: the open ones, and those put off or skipped; the most urgent first."""
        open_ones, waiting = [], []
        for forecast in sorted(self.untold, key=lambda one: (_URGENCY[one.standing], one.due)):
            decision = self.decisions.get((forecast.level, forecast.counted_from))
            if forecast.standing == ServiceStanding.LATER:
                continue
            if decision is not None and (decision.snoozed_until is None or decision.snoozed_until > today):
                waiting.append((forecast, decision))
            else:
                open_ones.append(forecast)
        return open_ones, waiting


def due_rows(shop: Shop, unit_pks: Collection[int], today: dt.date) -> DueList:
    """Those of these units that want a service and are not in the shop already, in a fixed number of queries."""
    rows, put_off = [], []
    for wanting in wanting_of(shop, unit_pks, today):
        open_ones, waiting = wanting.split(today)
        if open_ones:
            rows.append(_row(wanting.standing.unit, open_ones))
        elif waiting:
            forecasts, decisions = zip(*waiting, strict=True)
            put_off.append(_row(wanting.standing.unit, forecasts, decisions))
    order = lambda row: (_URGENCY[row.standing], turn_of(row.first), row.unit.pk)  # noqa: E731
    return DueList(sorted(rows, key=order), sorted(put_off, key=order))


def due_row(shop: Shop, unit_pk: int, today: dt.date) -> DueRow | None:
    """The row of one unit, also one that was put off; None where nothing of it is due or it was told already."""
    found = due_rows(shop, [unit_pk], today)
    return next(iter([*found.rows, *found.put_off]), None)


def wanting_of(shop: Shop, unit_pks: Collection[int], today: dt.date) -> list[Wanting]:
    """These units of the shop but for those in the shop already and those of an erased customer."""
    standings = standings_of(_units(shop).filter(pk__in=unit_pks), shop, today)
    told = set(RemindedService.objects.filter(unit__in=unit_pks).values_list("unit_id", "level", "counted_from"))
    decided: dict[int, dict[tuple[str, dt.date], Decision]] = defaultdict(dict)
    for row in Decision.objects.filter(unit__in=unit_pks).select_related("by"):
        decided[row.unit_id][row.level, row.counted_from] = row
    return [
        Wanting(
            standing,
            [one for one in standing.forecasts if (standing.unit.pk, one.level, one.counted_from) not in told],
            decided[standing.unit.pk],
        )
        for standing in standings
    ]


def turn_of(forecast: Forecast) -> int:
    """Where a service stands among those as urgent: what fell due lately before what did years ago, the next first."""
    day = forecast.due.toordinal()
    return -day if forecast.standing == ServiceStanding.OVERDUE else day


def _units(shop: Shop) -> QuerySet[SuspensionUnit]:
    in_the_shop = Ticket.objects.open().filter(unit=OuterRef("pk"))
    fitted = Prefetch("fittings", Fitting.objects.filter(until__isnull=True).select_related("bike"), to_attr="fitted")
    return (
        SuspensionUnit.objects.filter(shop=shop, customer__erasure__isnull=True)
        .exclude(Exists(in_the_shop))
        .select_related("model", "customer")
        .prefetch_related(fitted)
    )


def _row(unit: SuspensionUnit, forecasts: Sequence[Forecast], decisions: Sequence[Decision] = ()) -> DueRow:
    fitted: list[Fitting] = unit.fitted  # type: ignore[attr-defined]
    return DueRow(unit, unit.customer, str(fitted[0].bike) if fitted else "", forecasts, decisions)
