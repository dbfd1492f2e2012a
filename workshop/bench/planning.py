"""A run with its plan: the order it follows, why its next step is next, and what the shop's tickets say behind it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from hashlib import blake2s

from django.core.cache import cache

from diagnosis.beliefs import CauseBeliefs
from diagnosis.learning import Learned
from diagnosis.left_out import LeftOutWork, safety_left_out
from diagnosis.models import Cause, Checklist
from diagnosis.planning import SearchPlan, causes_within_reach, chances_of, leads_by_the_way, plan_search
from diagnosis.runs_state import NextState, RunState, StepState
from diagnosis.shared_steps import done_but_asked_again, due_anyway, shared_keys
from diagnosis.spring_answer import SpringAnswer, Verdict
from diagnosis.spring_chances import predictions_for
from diagnosis.steps import steps_of
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.work.learned import KEPT_SECONDS, learned_for
from workshop.work.spring import answer_now, spring_story
from workshop.work.work import ForkValues

_NO_PLAN = "none"  # kept as well: that a search is over is worth remembering


@dataclass(frozen=True)
class CauseRow:
    """A cause as the ticket's page shows it: its share of tickets, the 90 % interval, and the tickets behind it."""

    title: str
    share: str
    interval: str
    tickets: int


@dataclass(frozen=True)
class PlannedRun:
    """A run as its pages show it. `run_state.next` follows the order that the mechanic chose."""

    run_state: RunState
    plan: SearchPlan | None
    learned: Learned
    titles: Mapping[str, str] = field(default_factory=dict)
    """Titles of causes by key, where the page shows the figures."""

    @property
    def in_suggested_order(self) -> bool:
        return self.run_state.run.in_suggested_order

    @property
    def can_choose(self) -> bool:
        """Whether there is a choice to show: the other order saves something, or the suggested one is followed."""
        return self.plan is not None and (self.plan.saves or self.in_suggested_order)

    @cached_property
    def figures(self) -> CauseBeliefs | None:
        """The causes with their shares, intervals and the tickets behind them; None for a routine list."""
        state = self.run_state
        steps = steps_of(state.run.checklist)
        priors = causes_within_reach(steps, state.run.facts, state.run.checklist.priors)
        kind = state.run.facts.get("spring_kind")
        return self.learned.search(priors, chances_of(steps), kind).beliefs if priors else None

    @property
    def cause_rows(self) -> list[CauseRow]:
        """The figures in words, the commonest cause first."""
        figures = sorted(self.figures.figures, key=lambda figure: -figure.share) if self.figures else []
        return [
            CauseRow(
                self.titles.get(figure.cause, figure.cause),
                f"{figure.share:.0%}".replace("%", " %"),
                f"{100 * figure.low:.0f} to {100 * figure.high:.0f} %",
                figure.tickets,
            )
            for figure in figures
        ]

    @property
    def left_out(self) -> list[LeftOutWork]:
        """Safety work that was left out and that ready asks for."""
        return safety_left_out(self.run_state)

    @cached_property
    def suggested(self) -> list[StepState]:
        """What is left of the search, in the suggested order."""
        return [self.run_state.by_key[key] for key in self.plan.suggested] if self.plan else []

    @property
    def suggested_checks(self) -> list[StepState]:
        """Its checks alone; the work that opens the way to them comes before each as it must."""
        return [state for state in self.suggested if self.plan and state.key in self.plan.shares]

    @property
    def handbook_checks(self) -> list[StepState]:
        """The same checks in handbook order."""
        return (
            [self.run_state.by_key[key] for key in self.plan.handbook if key in self.plan.shares] if self.plan else []
        )

    @cached_property
    def listed(self) -> list[StepState]:
        """Every step in the order that is followed: those answered, those planned, and the rest of the handbook."""
        steps = list(self.run_state.steps)
        if self.plan is None or not self.in_suggested_order:
            return steps
        planned = set(self.plan.suggested)
        answered = [state for state in steps if state.tick and state.key not in planned]
        rest = [state for state in steps if not state.tick and state.key not in planned]
        return [*answered, *self.suggested, *rest]


def planned_run(
    run_state: RunState, shop: Shop, answer: SpringAnswer | None, job: Sequence[RunState] = ()
) -> PlannedRun:
    """The run with its plan. Two queries every ten minutes; the order is looked for once for each answer.

    `job` holds all runs of the ticket: what another of them has to do anyway costs the search of this one nothing.
    """
    learned = learned_for(shop, run_state.run.checklist.complaint_id)
    plan = _plan(run_state, learned, answer.verdict if answer else None, _paid_by_others(run_state, job))
    return PlannedRun(_with_next(run_state, plan), plan, learned)


def planned_runs(states: Iterable[RunState], ticket: Ticket, shop: Shop, values: ForkValues) -> list[PlannedRun]:
    """Every run of a ticket with its plan; the readings of all of them speak for its one spring."""
    listed = list(states)
    on_a_bike = ticket.bike_id is not None
    answer = answer_now(spring_story(listed, ticket.unit, shop, values=values.values, on_a_bike=on_a_bike))
    return [replace(planned_run(state, shop, answer, listed), titles=_titles(state.run.checklist)) for state in listed]


def _titles(checklist: Checklist) -> Mapping[str, str]:
    """The titles of a checklist's causes; asked for every ten minutes."""

    def read() -> dict[str, str]:
        return dict(Cause.objects.filter(key__in=list(checklist.priors)).values_list("key", "title"))

    if not checklist.priors:
        return {}
    titles: Mapping[str, str] = cache.get_or_set(f"cause-titles:{checklist.pk}", read, KEPT_SECONDS) or {}
    return titles


def _paid_by_others(state: RunState, job: Sequence[RunState]) -> frozenset[str]:
    others = [other.side for other in job if other.run.pk != state.run.pk]
    bound = [due_anyway(other) & shared_keys(other, state.side) for other in others]
    return frozenset().union(*bound, *(done_but_asked_again(state.side, other) for other in others))


def _plan(state: RunState, learned: Learned, verdict: Verdict | None, paid: frozenset[str]) -> SearchPlan | None:
    # Another run of the job can change the unit, and with it what must be opened, without a tick of this run.
    unit = blake2s(repr((sorted(state.unit.conditions.items()), list(state.outcomes.items()))).encode()).hexdigest()
    key = f"plan:{state.run.pk}:{state.version}:{unit}:{verdict or ''}:{'+'.join(sorted(paid))}"
    kept: SearchPlan | str | None = cache.get(key)
    if kept is None:
        kept = _look_for_plan(state, learned, verdict, paid) or _NO_PLAN
        cache.set(key, kept, KEPT_SECONDS)
    return None if isinstance(kept, str) else kept


def _look_for_plan(
    state: RunState, learned: Learned, verdict: Verdict | None, paid: frozenset[str]
) -> SearchPlan | None:
    run, steps = state.run, state.side.every_step
    priors = causes_within_reach(steps, run.facts, run.checklist.priors)
    if not priors:
        return None
    search = learned.search(priors, chances_of(steps), run.facts.get("spring_kind"))
    return plan_search(
        steps,
        run.facts,
        state.outcomes,
        beliefs=search.beliefs.beliefs(),
        chances=search.chances,
        minutes={step.key: learned.step_minutes(step.key, step.minutes).minutes for step in steps},
        predictions=predictions_for(verdict, steps),
        paid=paid,
        unit=state.unit,
    )


def _with_next(state: RunState, plan: SearchPlan | None) -> RunState:
    """The state with the next step of the order that is followed, and why it is next."""
    coming = state.next
    if coming is None or plan is None:
        return state
    titles = {entry.key: entry.step.title for entry in state.steps}
    by_the_way = leads_by_the_way([entry.step for entry in state.steps], state.outcomes)
    if state.run.in_suggested_order and not by_the_way:
        first, check = state.by_key[plan.suggested[0]], state.by_key[plan.first_check]
        before = state.side.first_before(check.key)
        if before is not None and before.because and before.step.key == first.key:
            why = f"{before.sentence} It has to come before “{check.step.title}”."
            return replace(state, next=NextState(first, why))
        return replace(state, next=NextState(first, plan.why(first.key, titles)))
    why = plan.why(coming.step.key, titles)
    if not why or (plan.shares.get(coming.step.key, 0.0) == 0.0):
        return state
    said = "" if coming.is_plain else f"{coming.why} "
    return replace(state, next=NextState(coming.step_state, said + why))
