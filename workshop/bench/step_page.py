"""What the page of one step shows, gathered in a fixed number of queries."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.http import Http404
from django.urls import reverse

from diagnosis.layout_plans import BOLTS
from diagnosis.models import Run, Tick
from diagnosis.runs_rules import lawful_outcomes
from diagnosis.runs_state import FoundState, RunState, StepState, state_of
from workshop.bench.board import may_work
from workshop.bench.spring import DECIDED_BY_SPRING, spring_shown
from workshop.bench.timers import TimerShown
from workshop.bench.work import ForkValues, arrival_settings, bench_ticket, fork_values, run_of
from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket
from workshop.web.requests import ShopRequest

OUTCOME_ICONS = {
    "ruled_out": "slash",
    "found": "target",
    "cant_tell": "question",
    "done": "tick",
    "left_out": "dash",
    "proved": "ticks",
    "not_proved": "cross",
}


@dataclass(frozen=True)
class OutcomeButton:
    """One way to answer the step."""

    value: str
    label: str
    icon: str
    is_now: bool


@dataclass(frozen=True)
class StepPage:
    """A step of a run of a ticket, open on the tablet. `came_from` is the step answered just now."""

    ticket: Ticket
    run_state: RunState
    state: StepState
    values: ForkValues
    shop: Shop
    user: User
    came_from: str = ""

    @property
    def is_next(self) -> bool:
        return self.run_state.next is not None and self.run_state.next.step.key == self.state.key

    @property
    def latest(self) -> StepState | None:
        """The answer given last, to show on the step it leads to what came of it."""
        latest = self.run_state.latest
        return latest if latest is not None and latest.key != self.state.key and self.is_next else None

    @property
    def latest_finding(self) -> FoundState | None:
        latest = self.latest
        return next((found for found in self.run_state.found if latest and found.step.key == latest.key), None)

    @property
    def finding(self) -> FoundState | None:
        """What this very step found."""
        return next((found for found in self.run_state.found if found.step.key == self.state.key), None)

    def moved_on(self, came_from: str) -> StepPage:
        """After an answer: the next step. Ticket and values were read for the answer and are the same."""
        run = Run.objects.select_related("checklist").get(pk=self.run_state.run.pk)
        run_state = state_of(run)
        return replace(self, run_state=run_state, state=_open_at(run_state, None), came_from=came_from)

    def url(self) -> str:
        return reverse("bench:step", args=[self.ticket.number, self.run_state.run.pk, self.state.key])

    def next_url(self) -> str:
        coming = self.run_state.next
        if coming is None:
            return reverse("bench:ticket", args=[self.ticket.number])
        return reverse("bench:step", args=[self.ticket.number, self.run_state.run.pk, coming.step.key])

    def buttons(self) -> list[OutcomeButton]:
        return [
            OutcomeButton(value, str(Tick.Outcome(value).label), OUTCOME_ICONS[value], value == self.state.outcome)
            for value in lawful_outcomes(self.state.step.kind)
        ]

    def context(self) -> dict[str, Any]:
        step = self.state.step
        wanted = [*step.shows, *(BOLTS[bolt] for bolt in step.bolts if BOLTS[bolt] not in step.shows)]
        running = self.state.running_timer
        return {
            "page": self,
            "ticket": self.ticket,
            "run_state": self.run_state,
            "state": self.state,
            "buttons": self.buttons(),
            "specs": self.values.written(wanted, self.shop),
            "arrival": arrival_settings(self.ticket),
            "spring": spring_shown([self.run_state], self.ticket.unit, self.shop, values=self.values.values),
            "decided_by_spring": step.key in DECIDED_BY_SPRING,
            "timer": TimerShown(running, self.ticket.number) if running else None,
            "other_timers": [
                TimerShown(timer, self.ticket.number)
                for other, timer in self.run_state.running_timers
                if other.key != self.state.key and timer is not None
            ],
            "photos": [photo for photo in self.ticket.photos.all() if photo.step_id == step.pk],
            "place": [entry.key for entry in self.run_state.steps].index(self.state.key) + 1,
            "may_work": may_work(self.user) and self.ticket.state == Ticket.State.ON_THE_BENCH,
        }


def open_step(request: ShopRequest, number: int, run_pk: int, key: str | None, *, came_from: str = "") -> StepPage:
    """The step of that key; without a key the next one, or the last when nothing is left. Raises Http404."""
    ticket = bench_ticket(request.shop, number)
    run_state = state_of(run_of(ticket, run_pk))
    state = _open_at(run_state, key)
    return StepPage(ticket, run_state, state, fork_values(ticket), request.shop, request.user, came_from)


def _open_at(run_state: RunState, key: str | None) -> StepState:
    if key is None:
        return run_state.next.step_state if run_state.next else run_state.steps[-1]
    if key not in run_state.by_key:
        raise Http404("This run has no such step.")
    return run_state.by_key[key]
