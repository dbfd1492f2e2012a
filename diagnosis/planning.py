"""The search of a run, planned: the suggested order of what is left, what it saves, and why a step is next. Pure.

Only open checks with some chance of finding a cause are planned, with the steps that have to come before them;
work and proof after the finding are not a matter of order. Safety steps among them keep their place. Where the
checklist says what its steps ask of the unit and leave, what has to be opened for a check and closed again after it is
counted from how the unit is now (diagnosis.opening_order).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from diagnosis import opening_search
from diagnosis.layout import applies
from diagnosis.next_step import BeliefsNow, NextStepReason, beliefs_after, next_step_reason
from diagnosis.opening_order import Asked, asked_of, lawful_handbook_order
from diagnosis.openings import PLAIN, Openings, steps_in_turn
from diagnosis.ordering import SearchStep, best_order, handbook_order
from diagnosis.runs_rules import (
    FOUND,
    NOTED,
    Facts,
    Outcomes,
    RunStep,
    answer_of,
    can_end_search,
    lets_others_follow,
    needs_of,
    search_is_over,
)
from diagnosis.spring_chances import Prediction
from diagnosis.unit_order import is_opening
from diagnosis.unit_state import UnitState, declares, effects
from diagnosis.unseen import Chances

LEAST_SHARE = 1e-6
RULED_OUT = "ruled_out"


@dataclass(frozen=True)
class SearchPlan:
    """What is left of a search. Orders hold step keys; `shares` the chance that a check settles it now."""

    suggested: tuple[str, ...]
    handbook: tuple[str, ...]
    reason: NextStepReason
    beliefs: Mapping[str, float]
    shares: Mapping[str, float]
    minutes: Mapping[str, float]
    predicted: Mapping[str, str] = field(default_factory=dict)
    contradicted_at: str | None = None
    counts_openings: bool = False
    """Whether what has to be opened and closed again is in the minutes."""

    @property
    def first_check(self) -> str:
        """The first check of the suggested order; what comes before it leads to it."""
        return next(key for key in self.suggested if key in self.shares)

    @property
    def saves(self) -> bool:
        """Whether the suggested order saves at least half a minute on average."""
        return bool(self.reason.saving_sentence())

    def why(self, key: str, titles: Mapping[str, str]) -> str:
        """One sentence why the first step of the suggested order, or any check that has a chance, is next."""
        if key in self.predicted:
            return self.predicted[key]
        if key == self.reason.key:
            return self.reason.sentence(titles)
        if self.shares.get(key, 0.0) > 0.0:
            return NextStepReason(key, self.minutes[key], self.shares[key], False, None, 0.0, 0.0).sentence(titles)
        return ""


def causes_within_reach(steps: Sequence[RunStep], facts: Facts, priors: Mapping[str, float]) -> dict[str, float]:
    """The prior weights of causes that a step can find on such a unit: a soft coil is no cause in an air fork."""
    found = {
        cause
        for step in steps
        if can_end_search(step) and applies(step, facts) != "no"
        for cause, chance in step.ends_search.items()
        if chance > 0
    }
    return {cause: weight for cause, weight in priors.items() if cause in found}


def chances_of(steps: Sequence[RunStep]) -> dict[str, Mapping[str, float]]:
    """The shipped chances of the checks that can find a cause, by key."""
    return {step.key: step.ends_search for step in steps if can_end_search(step)}


def plan_search(
    steps: Sequence[RunStep],
    facts: Facts,
    outcomes: Outcomes,
    *,
    beliefs: Mapping[str, float],
    minutes: Mapping[str, float],
    predictions: Mapping[str, Prediction],
    paid: Collection[str] = (),
    unit: UnitState | None = None,
    chances: Chances | None = None,
) -> SearchPlan | None:
    """The plan, or None when the search is over or nothing that is left can find a cause.

    Args:
        steps: the whole checklist in handbook order.
        outcomes: the answers that count, in the order in which they were given.
        beliefs: chance of each cause within reach before any answer; they sum to 1.
        minutes: of each step, by key.
        predictions: what the readings say of steps, by key.
        paid: steps that another run of the job has to do anyway, by key; they cost this search nothing.
        unit: how the unit is now; without it only what the steps need of each other counts.
        chances: of steps by key, where tickets taught better ones than the checklist has.
    """
    search = search_left(
        steps,
        facts,
        outcomes,
        beliefs=beliefs,
        minutes=minutes,
        predictions=predictions,
        paid=paid,
        chances=chances,
    )
    if search is None:
        return None
    if unit is None or not any(declares(step) for step in search.kept):
        return search.by_needs()
    return search.by_openings(unit)


def search_left(
    steps: Sequence[RunStep],
    facts: Facts,
    outcomes: Outcomes,
    *,
    beliefs: Mapping[str, float],
    minutes: Mapping[str, float],
    predictions: Mapping[str, Prediction],
    paid: Collection[str] = (),
    chances: Chances | None = None,
) -> SearchLeft | None:
    """What is left to be planned; arguments as for plan_search."""
    kept = [step for step in steps if applies(step, facts) != "no"]
    if not beliefs or search_is_over(kept, outcomes):
        return None
    needs = needs_of(steps, facts)
    minutes = {**minutes, **dict.fromkeys(paid, 0.0)}
    learned = chances or {}
    as_ordered = {
        step.key: _order_step(step, needs[step.key], beliefs, minutes, predictions, learned.get(step.key))
        for step in kept
    }
    now = beliefs_after(beliefs, _answers(kept, outcomes, as_ordered))
    shares = {
        step.key: sum(now.beliefs[cause] * chance for cause, chance in as_ordered[step.key].ends_search.items())
        for step in kept
        if step.key not in outcomes and can_end_search(step)
    }
    shares = {key: share for key, share in shares.items() if share > LEAST_SHARE}
    if not shares:
        return None
    return SearchLeft(kept, needs, outcomes, as_ordered, now, shares, predictions)


@dataclass(frozen=True)
class SearchLeft:
    """What is left of a search: the steps that apply, what they need, and the chances of those not answered."""

    kept: Sequence[RunStep]
    needs: Mapping[str, frozenset[str]]
    outcomes: Outcomes
    as_ordered: Mapping[str, SearchStep]
    now: BeliefsNow
    shares: Mapping[str, float]
    predictions: Mapping[str, Prediction]

    def by_needs(self) -> SearchPlan:
        """The plan of a checklist that says nothing of the unit's state."""
        wanted = self._wanted
        left = [
            SearchStep(key, step.minutes, step.needs - self._done, step.ends_search if key in self.shares else {})
            for key, step in self.as_ordered.items()
            if key in wanted
        ]
        pinned = [step.key for step in self.kept if step.safety and step.key in wanted]
        suggested = best_order(left, self.now.beliefs, pinned=pinned)
        reason = next_step_reason(left, self.now.beliefs, pinned=pinned, order=suggested)
        assert reason is not None  # noqa: S101  there are steps left
        return self._plan(suggested, handbook_order(left, pinned=pinned), reason, self.shares)

    def by_openings(self, unit: UnitState) -> SearchPlan | None:
        """The plan with what has to be opened and closed again counted, from how the unit is now."""
        asked, openings = self.asked(unit)
        best, handbook = opening_search.best_lawful_order(asked, openings), lawful_handbook_order(asked, openings)
        if not best.ways:
            return None
        suggested = steps_in_turn(best.ways)
        first, check = suggested[0], best.checks[0]
        reason = NextStepReason(
            key=first,
            minutes=self.as_ordered[first].minutes,
            share=self.shares.get(first, 0.0),
            is_safety=first in self._pinned,
            leads_to=check if check != first else None,
            suggested_minutes=best.minutes,
            handbook_minutes=handbook.minutes,
        )
        shares = {key: share for key, share in self.shares.items() if key in best.checks}
        plan = self._plan(suggested, steps_in_turn(handbook.ways), reason, shares)
        return replace(plan, counts_openings=True)

    def asked(self, unit: UnitState) -> tuple[Asked, Openings]:
        """The checks that are left, and what has to be opened and closed again for each."""
        needs = dict(self.needs)
        passed: frozenset[str] = frozenset()
        for step in self.kept:
            if passed and step.key in self._wanted:
                needs[step.key] |= passed
            if step.key in self._pinned:
                passed |= {step.key}
        openings = Openings(
            self.kept,
            needs,
            unit=unit,
            done=self._done,
            answered=self.outcomes,
            checks=self.shares,
            minutes={key: step.minutes for key, step in self.as_ordered.items()},
        )
        chances = {key: self.as_ordered[key].ends_search for key in self.shares}
        return asked_of(list(self.shares), chances, self.now.beliefs), openings

    def _plan(
        self,
        suggested: tuple[str, ...],
        handbook: tuple[str, ...],
        reason: NextStepReason,
        shares: Mapping[str, float],
    ) -> SearchPlan:
        return SearchPlan(
            suggested=suggested,
            handbook=handbook,
            reason=reason,
            beliefs=self.now.beliefs,
            shares=shares,
            minutes={key: self.as_ordered[key].minutes for key in suggested},
            predicted={key: said.says for key, said in self.predictions.items() if key in shares},
            contradicted_at=self.now.contradicted_at,
        )

    @cached_property
    def _done(self) -> frozenset[str]:
        return frozenset(step.key for step in self.kept if lets_others_follow(step, self.outcomes.get(step.key)))

    @cached_property
    def _wanted(self) -> frozenset[str]:
        return frozenset(_with_needs(self.shares, self.needs, set(self._done)))

    @cached_property
    def _pinned(self) -> frozenset[str]:
        """Safety steps that keep their place. What opens the unit has none: it comes where it is asked for."""
        return frozenset(
            step.key
            for step in self.kept
            if step.safety
            and step.key in self._wanted
            and not any(is_opening(part, value) for part, value in effects(step, PLAIN[step.kind]).items())
        )


def leads_by_the_way(steps: Sequence[RunStep], outcomes: Outcomes) -> bool:
    """Whether the latest answer is a finding by the way that leads to an open step: the mechanic's eye goes first."""
    if not outcomes:
        return False
    latest, by_key = list(outcomes)[-1], {step.key: step for step in steps}
    if latest not in by_key or outcomes[latest] != FOUND or can_end_search(by_key[latest]):
        return False
    target = answer_of(by_key[latest], FOUND).get("next")
    return target in by_key and target not in outcomes


def _order_step(
    step: RunStep,
    needs: frozenset[str],
    beliefs: Mapping[str, float],
    minutes: Mapping[str, float],
    predictions: Mapping[str, Prediction],
    learned: Mapping[str, float] | None,
) -> SearchStep:
    chances = (
        {cause: chance for cause, chance in (learned or step.ends_search).items() if cause in beliefs}
        if can_end_search(step)
        else {}
    )
    spent = minutes.get(step.key, step.minutes)
    said = predictions.get(step.key)
    if said is not None:
        chances, spent = said.chances(chances), said.minutes(spent)
    return SearchStep(step.key, spent, needs, chances)


def _answers(
    steps: Sequence[RunStep], outcomes: Outcomes, as_ordered: Mapping[str, SearchStep]
) -> list[tuple[SearchStep, str]]:
    """The answers of checks. What was found and did not end the search counts as ruled out."""
    checks = {step.key for step in steps if can_end_search(step)}
    return [
        (as_ordered[key], RULED_OUT if outcome in (FOUND, NOTED) else outcome)
        for key, outcome in outcomes.items()
        if key in checks
    ]


def _with_needs(wanted: Mapping[str, float], needs: Mapping[str, frozenset[str]], done: set[str]) -> set[str]:
    closure, waiting = set(wanted), list(wanted)
    while waiting:
        fresh = needs[waiting.pop()] - done - closure
        closure |= fresh
        waiting.extend(fresh)
    return closure
