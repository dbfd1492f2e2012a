"""Where units stand: every forecast of many units, in a fixed number of queries."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Min
from django.utils import timezone

from specs.lookup import for_travel
from specs.models import SpecValue
from workshop.intervals.forecast import Figures, Forecast, Rule, forecast
from workshop.intervals.levels import levels_covering
from workshop.intervals.models import CounterReading, IntervalPolicy, Level, Ride, ServiceDone, UnitRule, WeeklyHours
from workshop.intervals.ridden import CounterValue, RideHistory, RideHours, WeeklyFigure
from workshop.intervals.rules import INTERVAL_KEYS, rules_of
from workshop.staff.models import Shop
from workshop.suspension.models import ChangeOfOwner, SuspensionUnit
from workshop.tickets.models import Ticket


@dataclass(frozen=True)
class UnitStanding:
    """A unit with its rules, what is known of its riding, and a forecast of each level that can be forecast."""

    unit: SuspensionUnit
    rules: Sequence[Rule]
    history: RideHistory
    forecasts: Sequence[Forecast]
    last_service: Mapping[str, ServiceDone]

    @property
    def next(self) -> Forecast | None:
        """The service that is due first."""
        return min(self.forecasts, key=lambda one: one.due, default=None)

    @property
    def lines(self) -> list[StandingLine]:
        """One line for each level, also for one without a rule or a forecast."""
        forecasts = {one.level: one for one in self.forecasts}
        rules = {rule.level: rule for rule in self.rules}
        return [
            StandingLine(
                level, str(Level(level).label), rules.get(level), forecasts.get(level), self.last_service.get(level)
            )
            for level in Level.values
        ]


@dataclass(frozen=True)
class StandingLine:
    """A level on a unit's page."""

    level: str
    label: str
    rule: Rule | None
    forecast: Forecast | None
    last_service: ServiceDone | None


def figures_of(shop: Shop) -> Figures:
    """The owner's figures; the usual ones where the owner has set none."""
    policy = IntervalPolicy.objects.filter(shop=shop).first()
    if policy is None:
        return Figures()
    return Figures(policy.wet_factor, policy.dusty_factor, policy.said_hours_spread, policy.coming_up_days)


def standing_of(unit: SuspensionUnit, today: dt.date, unrecorded: Sequence[ServiceDone] = ()) -> UnitStanding:
    """Where one unit stands; `unrecorded` are services of it that are done and not written down yet."""
    return standings_of([unit], unit.shop, today, unrecorded)[0]


def standings_of(
    units: Iterable[SuspensionUnit], shop: Shop, today: dt.date, unrecorded: Sequence[ServiceDone] = ()
) -> list[UnitStanding]:
    """Where these units of a shop stand, in their order. Give them with `model` selected."""
    units = list(units)
    pks = [unit.pk for unit in units]
    figures = figures_of(shop)
    own: dict[int, list[UnitRule]] = defaultdict(list)
    for row in UnitRule.objects.filter(unit__in=pks):
        own[row.unit_id].append(row)
    services = _last_services(pks, unrecorded)
    histories = histories_of(pks)
    first_seen = _first_seen(units)
    values = _interval_values({unit.model_id for unit in units if unit.model_id is not None})
    of_model: dict[tuple[int | None, int | None], Mapping[str, SpecValue]] = {}
    standings = []
    for unit in units:
        travel_mm = None if unit.travel_m is None else round(unit.travel_m * 1000)
        key = (unit.model_id, travel_mm)
        if key not in of_model:
            of_model[key] = for_travel(values.get(unit.model_id or 0, []), travel_mm)
        rules = rules_of(own[unit.pk], of_model[key])
        forecasts = []
        for rule in rules:
            last = services[unit.pk].get(rule.level)
            made = forecast(
                rule,
                histories[unit.pk],
                counted_from=last.on if last else first_seen[unit.pk],
                after_service=last is not None,
                today=today,
                figures=figures,
            )
            if made is not None:
                forecasts.append(made)
        standings.append(UnitStanding(unit, rules, histories[unit.pk], forecasts, services[unit.pk]))
    return standings


def histories_of(unit_pks: Sequence[int]) -> Mapping[int, RideHistory]:
    """What is known of the riding of units, in four queries."""
    weekly: dict[int, list[WeeklyFigure]] = defaultdict(list)
    for row in WeeklyHours.objects.filter(unit__in=unit_pks):
        weekly[row.unit_id].append(WeeklyFigure(row.since, row.hours_per_week, row.said_by_customer, row.conditions))
    rides: dict[int, list[RideHours]] = defaultdict(list)
    for unit_pk, began_at, moving_s in Ride.objects.filter(unit__in=unit_pks).values_list(
        "unit_id", "began_at", "moving_s"
    ):
        rides[unit_pk].append(RideHours(timezone.localtime(began_at).date(), moving_s / 3600))
    counter: dict[int, list[CounterValue]] = defaultdict(list)
    for reading in CounterReading.objects.filter(unit__in=unit_pks):
        counter[reading.unit_id].append(CounterValue(reading.on, reading.counter_hours))
    changed: dict[int, list[dt.date]] = defaultdict(list)
    for unit_pk, on in ChangeOfOwner.objects.filter(unit__in=unit_pks).values_list("unit_id", "on"):
        changed[unit_pk].append(on)
    return {
        pk: RideHistory(
            tuple(weekly[pk]),
            tuple(sorted(rides[pk], key=lambda ride: ride.day)),
            tuple(counter[pk]),
            tuple(changed[pk]),
        )
        for pk in unit_pks
    }


def _last_services(
    unit_pks: Sequence[int], unrecorded: Sequence[ServiceDone] = ()
) -> dict[int, dict[str, ServiceDone]]:
    """For each unit and level, the latest service of that level or of one that takes it in."""
    latest: dict[int, dict[str, ServiceDone]] = {pk: {} for pk in unit_pks}
    done = ServiceDone.objects.filter(unit__in=unit_pks).select_related("ticket").order_by("-on", "-pk")
    for service in sorted([*unrecorded, *done], key=lambda one: one.on, reverse=True):
        for level in Level.values:
            if service.level in levels_covering(level):
                latest[service.unit_id].setdefault(level, service)
    return latest


def _first_seen(units: Sequence[SuspensionUnit]) -> dict[int, dt.date]:
    """The day a unit was first booked in, or entered."""
    booked = dict(
        Ticket.objects.filter(unit__in=[unit.pk for unit in units])
        .order_by()
        .values_list("unit")
        .annotate(first=Min("booked_at"))
    )
    return {
        unit.pk: timezone.localtime(min(booked.get(unit.pk, unit.created_at), unit.created_at)).date() for unit in units
    }


def _interval_values(model_pks: Iterable[int]) -> Mapping[int, list[SpecValue]]:
    found: dict[int, list[SpecValue]] = defaultdict(list)
    values = SpecValue.objects.filter(model__in=model_pks, is_current=True, quantity__in=INTERVAL_KEYS)
    for value in values.order_by("travel_mm"):
        found[value.model_id].append(value)
    return found
