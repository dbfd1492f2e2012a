"""Whether an answer may be taken, by the answers that count and the state of the unit now."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from diagnosis.layout import applies
from diagnosis.models import Run, Step, Tick
from diagnosis.runs_claim import InBetween, refuse_before_its_turn
from diagnosis.runs_refusals import StepNeedsOthers, TickRefused, UnitNotSo
from diagnosis.runs_rules import TAKEN_BACK, lawful_outcomes, missing_needs, needs_of
from diagnosis.runs_shared import RunRecord, latest_tick, resting_elsewhere
from diagnosis.shared_steps import Side
from diagnosis.unit_state import UnitState, dangers, says_done


@dataclass(frozen=True)
class AnswerJudge:
    """Where a run stands while an answer is judged: the answers that count, and the state of the unit."""

    run: Run
    steps: Sequence[Step]
    outcomes: dict[str, str]
    unit: UnitState

    def refuse_by_news(
        self, step_key: str, outcome: str, between: InBetween, behind: Collection[str], beside: Sequence[RunRecord]
    ) -> None:
        """Where ticks in between are news, the true reason goes before their being news: what is refused now is so.

        Raises as refuse_answer and refuse_taking_back, with who did what meanwhile, and WaitsForOthers.
        """
        if not between.news and not behind:
            return
        step = applying_step(self.steps, step_key, self.run)
        refuse_before_its_turn(self.run, self.steps, step, behind)
        if not between.news:
            return
        try:
            if outcome == TAKEN_BACK:
                self.refuse_taking_back(step, beside)
            else:
                self.refuse_answer(step, outcome)
        except TickRefused as refused:
            refused.add(between.in_words())
            raise

    def refuse_answer(self, step: Step, outcome: str) -> None:
        """Raise where the answer is none to this step, steps must come first, or it says that a danger was done."""
        if not outcome:
            raise TickRefused("Choose how the step ended.")
        if outcome not in lawful_outcomes(step):
            raise TickRefused(f"“{outcome}” is no answer to a step of this kind.")
        if step.needs:
            needs = needs_of(self.steps, self.run.facts)
            missing = missing_needs(step.key, _applying(self.steps, self.run), needs, self.outcomes, self.unit)
            if missing:
                raise StepNeedsOthers(step, missing, _dangers(self.unit, step, outcome))  # type: ignore[arg-type]
        _refuse_danger(self.unit, Side(self.steps, self.run.facts, self.outcomes, unit=self.unit), step, outcome)

    def refuse_taking_back(self, step: Step, beside: Sequence[RunRecord]) -> Tick | None:
        """The tick to undo, looked for only where the job has other runs. Raises where a later answer rests on it."""
        if step.key not in self.outcomes:
            raise TickRefused(f"“{step.title}” has no answer to take back.")
        needs = needs_of(self.steps, self.run.facts)
        resting = [other.title for other in self.steps if other.key in self.outcomes and step.key in needs[other.key]]
        undone = latest_tick(self.run, step) if beside else None
        if undone is not None:
            resting += [title for title in resting_elsewhere(undone, beside) if title not in resting]
        if resting:
            titles = ", ".join(f"“{title}”" for title in resting)
            raise TickRefused(f"“{step.title}” cannot be taken back while {titles} rests on it. Take that back first.")
        return undone


def _refuse_danger(unit: UnitState, side: Side, step: Step, outcome: str) -> None:
    """Raise UnitNotSo where the answer says that something dangerous was done. What was not done is always taken."""
    said = _dangers(unit, step, outcome)
    if not said:
        return
    found = side.first_before(step.key)
    first = found.step if found is not None and found.step.key != step.key else None
    again = " again" if first is not None and first.key in unit.answered else ""
    way = f" First do “{first.title}”{again}." if first is not None else ""
    raise UnitNotSo(f"“{step.title}” is dangerous now: {', and '.join(said)}.{way}")


def _dangers(unit: UnitState, step: Step, outcome: str) -> list[str]:
    """What makes it dangerous to say that the step was done, in words; nothing where it was not done."""
    if not says_done(step, outcome):
        return []
    said = [unmet.words for unmet in unit.unmet(step) if unmet.is_danger]
    return list(dict.fromkeys([*said, *(danger.words for danger in dangers(unit, step, outcome))]))


def _applying(steps: Sequence[Step], run: Run) -> list[Step]:
    return [step for step in steps if applies(step, run.facts) != "no"]


def applying_step(steps: Sequence[Step], key: str, run: Run) -> Step:
    for step in steps:
        if step.key == key and applies(step, run.facts) != "no":
            return step
    raise TickRefused("That step is not part of this run.")
