"""The next service as a customer reads it: one date, from a service that was done, for report and page alike."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext

from specs.units import number_text
from workshop.intervals.forecast import Forecast, Rule, ServiceStanding
from workshop.intervals.models import Level, ServiceDone
from workshop.intervals.services import services_ticked
from workshop.intervals.standing import standing_of
from workshop.tickets.models import Ticket


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
        return str(Level(self.rule.level).label) if self.rule else ""

    @property
    def when(self) -> str:
        """The day in words; empty without one."""
        if self.forecast is None:
            return ""
        due = day_text(self.forecast.due)
        if self.forecast.standing == ServiceStanding.OVERDUE:
            return gettext("was due %(day)s") % {"day": due}
        if not self.forecast.is_a_range:
            return gettext("by %(day)s") % {"day": due}
        return gettext("about %(day)s, between %(earliest)s and %(latest)s") % {
            "day": due,
            "earliest": day_text(self.forecast.earliest),
            "latest": day_text(self.forecast.latest),
        }

    @property
    def counted_from(self) -> str:
        """The service it counts from, in words."""
        if self.last is None:
            return ""
        service = Level(self.last.level).label.lower()
        return gettext("%(service)s of %(day)s") % {"service": service, "day": day_text(self.last.on)}


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
    values = {"hours": "" if rule.hours is None else number_text(rule.hours, "h"), "months": rule.months}
    if rule.hours is not None and rule.months is not None:
        both = ngettext(
            "after %(hours)s hours of riding or %(months)s month, whichever comes first",
            "after %(hours)s hours of riding or %(months)s months, whichever comes first",
            rule.months,
        )
        return both % values
    if rule.hours is not None:
        return gettext("after %(hours)s hours of riding") % values
    return ngettext("after %(months)s month", "after %(months)s months", rule.months or 0) % values


def day_text(day: dt.date) -> str:
    return str(date_format(day, "j F Y"))
