"""Timers as a screen shows them. They count from the start the server stored, so a reload loses nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils import timezone

from diagnosis.models import StepTimer
from diagnosis.runs_state import RunState
from workshop.tickets.models import Ticket, TicketRun


@dataclass(frozen=True)
class TimerShown:
    """A running timer with the ticket it belongs to."""

    timer: StepTimer
    ticket_number: int

    @property
    def label(self) -> str:
        return (self.timer.step.timer or {}).get("label") or self.timer.step.title

    @property
    def ends_at(self) -> dt.datetime:
        return self.timer.started_at + dt.timedelta(seconds=self.timer.seconds)

    @property
    def ends_ms(self) -> int:
        """Milliseconds since 1970, for the script that counts."""
        return round(self.ends_at.timestamp() * 1000)

    @property
    def now_ms(self) -> int:
        """The server's clock, since a tablet's may be wrong."""
        return round(timezone.now().timestamp() * 1000)

    @property
    def is_over(self) -> bool:
        return timezone.now() >= self.ends_at

    @property
    def left(self) -> str:
        """Minutes and seconds left when the page was made."""
        seconds = max(0, round((self.ends_at - timezone.now()).total_seconds()))
        return f"{seconds // 60:02}:{seconds % 60:02}"


def timers_of(states: Iterable[RunState], ticket_number: int) -> list[TimerShown]:
    """Timers that run in these runs of one ticket, the one that ends first in front; asks the database nothing.

    One at a step that several runs share is shown once.
    """
    timers = {timer.pk: timer for state in states for _, timer in state.running_timers}
    return sorted((TimerShown(timer, ticket_number) for timer in timers.values()), key=lambda entry: entry.ends_at)


def running_timers(tickets: Iterable[Ticket]) -> list[TimerShown]:
    """Timers that run on these tickets, the one that ends first in front, in two queries."""
    numbers = {ticket.pk: ticket.number for ticket in tickets}
    rows = dict(TicketRun.objects.filter(ticket__in=numbers).values_list("run", "ticket"))
    timers = StepTimer.objects.filter(stopped_at__isnull=True, run__in=rows).select_related("step")
    return sorted((TimerShown(timer, numbers[rows[timer.run_id]]) for timer in timers), key=lambda entry: entry.ends_at)
