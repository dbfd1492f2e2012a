"""What may be ticked and what comes next in a run. Pure: steps and outcomes in, keys and words out.

`outcomes` maps a step's key to the outcome that counts, in the order in which they were ticked; what was taken back
is not in it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from diagnosis.layout import applies
from diagnosis.layout_plans import CHECK, OUTCOMES, PROOF, WORK
from specs.facts import FactValue

Facts = Mapping[str, FactValue | None]
Outcomes = Mapping[str, str]

FOUND, DONE, LEFT_OUT = "found", "done", "left_out"
PROVED, NOT_PROVED, TAKEN_BACK = "proved", "not_proved", "taken_back"
WITHOUT_READINGS = frozenset({"cant_tell", LEFT_OUT, NOT_PROVED})
"""Outcomes that may be ticked although a required reading is missing."""


class RunStep(Protocol):
    """A step as these rules see it: a Step record, or anything with the same fields."""

    key: str
    kind: str
    title: str
    minutes: float
    safety: bool
    needs: Any
    only_if: Any
    do: Any
    bolts: Any
    ends_search: Any
    answers: Any


def lawful_outcomes(kind: str) -> tuple[str, ...]:
    """The outcomes that a step of this kind can end with."""
    return OUTCOMES[kind]


def needs_of(steps: Sequence[RunStep], facts: Facts) -> dict[str, frozenset[str]]:
    """For each step, the steps that must come first on a unit with these facts.

    A need that does not apply is replaced by what it needs itself, so that leaving it out loosens no order.
    """
    by_key = {step.key: step for step in steps}
    found: dict[str, frozenset[str]] = {}

    def resolve(key: str) -> frozenset[str]:
        if key not in found:
            needs: set[str] = set()
            for need in by_key[key].needs:
                if need in by_key:
                    needs |= {need} if applies(by_key[need], facts) != "no" else resolve(need)
            found[key] = frozenset(needs)
        return found[key]

    return {step.key: resolve(step.key) for step in steps}


def lets_others_follow(step: RunStep, outcome: str | None) -> bool:
    """Whether steps that need this one may go on. A safety step left out, or a proof that failed, holds them back."""
    if outcome is None or outcome == NOT_PROVED:
        return False
    return not (step.safety and outcome == LEFT_OUT)


def missing_needs(
    key: str, steps: Sequence[RunStep], needs: Mapping[str, frozenset[str]], outcomes: Outcomes
) -> list[RunStep]:
    """The steps that must still come before `key`, in handbook order."""
    wanted = needs.get(key, frozenset())
    return [step for step in steps if step.key in wanted and not lets_others_follow(step, outcomes.get(step.key))]


def answer_of(step: RunStep, outcome: str) -> Mapping[str, Any]:
    """What follows from an outcome: an answer of the layout, or nothing."""
    answer: Mapping[str, Any] = (step.answers or {}).get(outcome) or {}
    return answer


def can_end_search(step: RunStep) -> bool:
    """Whether the step can find a cause of the complaint; one that cannot makes its findings by the way."""
    return step.kind == CHECK and any(chance > 0 for chance in (step.ends_search or {}).values())


def causes_of(step: RunStep) -> tuple[str, ...]:
    """The causes that a finding at the step can mean, by key: the one its answer names, or all it can find."""
    if not can_end_search(step):
        return ()
    named = answer_of(step, FOUND).get("cause")
    return (named,) if named else tuple(cause for cause, chance in step.ends_search.items() if chance > 0)


def search_is_over(steps: Sequence[RunStep], outcomes: Outcomes) -> bool:
    """Whether a cause was found and no proof has failed since. A finding by the way leaves the search on."""
    by_key = {step.key: step for step in steps}
    over = False
    for key, outcome in outcomes.items():
        if outcome == FOUND and can_end_search(by_key[key]):
            over = True
        elif outcome == NOT_PROVED:
            over = False
    return over


def missing_proof(steps: Sequence[RunStep], outcomes: Outcomes, needs: Mapping[str, frozenset[str]]) -> list[RunStep]:
    """Proof steps without proof, safety work left out, and bolts not tightened again; `steps` are those that apply."""
    return [
        step
        for step in steps
        if (step.kind == PROOF and outcomes.get(step.key) != PROVED)
        or (step.kind == WORK and step.safety and outcomes.get(step.key) == LEFT_OUT)
        or bolts_are_loose(step, outcomes, needs)
    ]


def bolts_are_loose(step: RunStep, outcomes: Outcomes, needs: Mapping[str, frozenset[str]]) -> bool:
    """Whether the step tightens critical bolts, has not been done, and work that it follows was done."""
    is_open = step.kind == WORK and bool(step.bolts) and step.key not in outcomes
    return is_open and any(outcomes.get(need) == DONE for need in needs[step.key])


@dataclass(frozen=True)
class Next:
    """The step to take next, one sentence why, and the step that it leads `towards`, if only itself."""

    key: str
    why: str
    towards: str = ""


def plain_reason(step: RunStep) -> str:
    """Why a step is next when no answer has said anything."""
    return f"Next in the handbook, about {step.minutes:g} minutes."


def next_step(
    steps: Sequence[RunStep],
    facts: Facts,
    outcomes: Outcomes,
    *,
    needs: Mapping[str, frozenset[str]] | None = None,
    elsewhere: Collection[str] = (),
) -> Next | None:
    """The next step in handbook order, or None when there is nothing left to do.

    The latest answer that names a step leads there. Otherwise the list goes on from the latest step: every open step
    while the search is on; once a cause is found, only work that was opened, and the proof. What a step needs comes
    before it. `steps` are those that apply, in handbook order; `needs` comes from needs_of over the whole checklist.
    What was answered in another run (`elsewhere`) is done, but the list does not go on from there.
    """
    walk = _Walk(steps, needs_of(steps, facts) if needs is None else needs, outcomes, elsewhere)
    for wanted in walk.candidates():
        first = walk.with_its_needs_first(wanted)
        if first is not None:
            return Next(first.key, walk.why(first, wanted), wanted.key)
    return None


class _Walk:
    def __init__(
        self,
        steps: Sequence[RunStep],
        needs: Mapping[str, frozenset[str]],
        outcomes: Outcomes,
        elsewhere: Collection[str],
    ) -> None:
        self.elsewhere = elsewhere
        self.steps, self.needs, self.outcomes = list(steps), needs, outcomes
        self.by_key = {step.key: step for step in steps}
        self.place = {step.key: place for place, step in enumerate(steps)}
        self.over = search_is_over(steps, outcomes)
        self.answered = [key for key in outcomes if key in self.by_key]
        self.led_to, self.led_by = self._led_to()

    def _led_to(self) -> tuple[str | None, str | None]:
        """The step that the latest answer with a `next` leads to, and the step that was answered."""
        for key in reversed(self.answered):
            if self.outcomes[key] == NOT_PROVED:
                return None, None  # the search starts again, older answers no longer lead
            target = answer_of(self.by_key[key], self.outcomes[key]).get("next")
            if target in self.by_key:
                return target, key
        return None, None

    def candidates(self) -> list[RunStep]:
        """Open steps in the order in which they come into question."""
        open_steps = [step for step in self.steps if step.key not in self.outcomes]
        proofs = [step for step in open_steps if step.kind == PROOF]
        others = [step for step in open_steps if step.kind != PROOF]
        if self.over:
            others = [step for step in others if step.kind == WORK and self._was_opened(step)]
        here = self._place_now()
        if self.answered and self.outcomes[self.answered[-1]] == NOT_PROVED:
            # Back to the first check not yet tried.
            ordered = sorted(others, key=lambda step: step.kind != CHECK)
        else:
            later = [step for step in others if self.place[step.key] > here]
            ordered = later if self.over else later + [step for step in others if self.place[step.key] <= here]
        # What was taken apart is put together before anything is proved, wherever the answers lead.
        loose = [step for step in others if bolts_are_loose(step, self.outcomes, self.needs)]
        if self.led_to is not None and self.led_to not in self.outcomes:
            target = self.by_key[self.led_to]
            first = [*loose, target] if target.kind == PROOF else [target]
            return [*first, *ordered, *loose, *proofs]
        return [*ordered, *loose, *proofs]

    def _place_now(self) -> int:
        own = [key for key in self.answered if key not in self.elsewhere]
        if not own:
            return -1
        latest = self.place[own[-1]]
        reached = self.place[self.led_to] if self.led_to in self.outcomes and self.led_to else -1
        return max(latest, reached)

    def _was_opened(self, step: RunStep) -> bool:
        """Work belongs to what is going on if something it needs was done, or nothing has to come first."""
        needs = self.needs[step.key]
        return not needs or any(need in self.outcomes for need in needs)

    def with_its_needs_first(self, wanted: RunStep) -> RunStep | None:
        """`wanted`, or the first step it still needs: an open one, or one that was left out and holds it back."""
        seen: set[str] = set()

        def first(step: RunStep) -> RunStep | None:
            if step.key in seen:
                return None
            seen.add(step.key)
            missing = missing_needs(step.key, self.steps, self.needs, self.outcomes)
            if not missing:
                return step
            held_back = [need for need in missing if need.key in self.outcomes]
            return held_back[0] if held_back else first(missing[0])

        return first(wanted)

    def why(self, step: RunStep, wanted: RunStep) -> str:
        said = ""
        if wanted.key == self.led_to and self.led_by is not None:
            said = answer_of(self.by_key[self.led_by], self.outcomes[self.led_by]).get("says") or ""
        elif self.answered:
            latest = self.answered[-1]
            said = answer_of(self.by_key[latest], self.outcomes[latest]).get("says") or ""
        if step.key != wanted.key:
            return f"{said} It has to come before “{wanted.title}”.".strip()
        return said or plain_reason(step)
