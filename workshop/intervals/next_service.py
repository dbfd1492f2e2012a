"""The next service as a customer reads it: one date, from a service that was done, for report and page alike."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from specs.units import number_text
from workshop.intervals.forecast import Forecast, Rule, ServiceStanding
from workshop.intervals.models import Level, ServiceDone
from workshop.intervals.services import services_ticked
from workshop.intervals.standing import standing_of
from workshop.tickets.models import Ticket
from workshop.web.counts import counted


@dataclass(frozen=True)
class NextService:
    """What is due first of all that is counted from a service; `forecast` is None where that leads to no day.

    `rule` and `last` are None where no service of the unit is on record: then nothing is counted.
    """

    forecast: Forecast | None
    rule: Rule | None
    last: ServiceDone | None
    has_interval: bool

    @property
    def label(self) -> str:
        return Level(self.rule.level).label if self.rule else ""

    @property
    def when(self) -> str:
        """The day in words; empty without one."""
        if self.forecast is None:
            return ""
        due = day_text(self.forecast.due)
        if self.forecast.standing == ServiceStanding.OVERDUE:
            return f"was due {due}"
        if not self.forecast.is_a_range:
            return f"by {due}"
        return f"about {due}, between {day_text(self.forecast.earliest)} and {day_text(self.forecast.latest)}"

    @property
    def counted_from(self) -> str:
        """The service it counts from, in words."""
        return f"{Level(self.last.level).label.lower()} of {day_text(self.last.on)}" if self.last else ""


def next_service_of(ticket: Ticket, today: dt.date) -> NextService:
    """The next service of a ticket's unit; what the ticket's ticks make up counts before it is handed back too."""
    coming = []
    if ticket.state != Ticket.State.HANDED_BACK:
        coming = [
            ServiceDone(unit_id=ticket.unit_id, ticket=ticket, level=ticked.level, on=ticked.on, told_by="")
            for ticked in services_ticked(ticket)
        ]
    standing = standing_of(ticket.unit, today, coming)
    counted = [one for one in standing.forecasts if one.after_service]
    forecast = min(counted, key=lambda one: one.due, default=None)
    served = [rule for rule in standing.rules if rule.level in standing.last_service]
    rule = forecast.rule if forecast else next(iter(served), None)
    last = standing.last_service.get(rule.level) if rule else None
    return NextService(forecast, rule, last, bool(standing.rules))


def interval_words(rule: Rule) -> str:
    """An interval as a customer reads it: “after 43 hours of riding or 6 months, whichever comes first”."""
    parts = []
    if rule.hours is not None:
        parts.append(f"{number_text(rule.hours, 'h')} hours of riding")
    if rule.months is not None:
        parts.append(counted(rule.months, "month"))
    ending = ", whichever comes first" if len(parts) == 2 else ""
    return f"after {' or '.join(parts)}{ending}"


def day_text(day: dt.date) -> str:
    return f"{day:%-d %B %Y}"
