"""What may be ticked and what comes next in a run. Pure: steps and outcomes in, keys and words out.

`outcomes` maps a step's key to the outcome that counts, in the order in which they were ticked; what was taken back
is not in it. A finding that was noted beside the cause is in it as NOTED; see `counts_as`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol, TypeVar

from diagnosis.layout import applies
from diagnosis.layout_plans import BY_THE_WAY, CHECK, DANGER, PROOF, STILL_PULLING, WORK, outcomes_of
from diagnosis.unit_order import asks_to_open, brought_about_by, closes_nothing, opens_on_the_way, opens_up
from diagnosis.unit_parts import PARTS
from diagnosis.unit_state import LEFT_EARLY, UnitState
from specs.facts import FactValue

Facts = Mapping[str, FactValue | None]
Outcomes = Mapping[str, str]

FOUND, DONE, LEFT_OUT = "found", "done", "left_out"
PROVED, NOT_PROVED, TAKEN_BACK = "proved", "not_proved", "taken_back"
CANT_TELL, NOTED = "cant_tell", "noted"
"""How a finding counts that the step could have taken for the cause and that is not: the search goes on."""
WITHOUT_READINGS = frozenset({"cant_tell", LEFT_OUT, STILL_PULLING, NOT_PROVED})
"""Outcomes that may be ticked although a required reading is missing."""
ALL_WELL = frozenset({"ruled_out", DONE, PROVED})
"""Outcomes that say that all is well: a reading outside what is wanted then has to say why."""


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
    requires: Any
    opens: Any
    proves: Any
    answers: Any


_R = TypeVar("_R", bound=RunStep)


def lawful_outcomes(step: RunStep) -> tuple[str, ...]:
    """The outcomes that the step can end with."""
    return outcomes_of(step.kind, step.answers)


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
    """Whether steps that need this one may go on.

    A safety step left out, a proof that failed, air that still pulls or a wait left early hold them back.
    """
    if outcome is None or outcome in (NOT_PROVED, STILL_PULLING, LEFT_EARLY):
        return False
    return not (step.safety and outcome == LEFT_OUT)


def missing_needs(
    key: str,
    steps: Sequence[RunStep],
    needs: Mapping[str, frozenset[str]],
    outcomes: Outcomes,
    unit: UnitState | None = None,
) -> list[RunStep]:
    """The steps that must still come before `key`, in handbook order.

    Of a `unit` whose state is known, work does not wait for work that would only close what is closed: lowers go on
    without a spring put in that was never taken out. A check does, for it may ask what that work changed.
    """
    wanted = needs.get(key, frozenset())
    missing = [step for step in steps if step.key in wanted and not lets_others_follow(step, outcomes.get(step.key))]
    if not missing or unit is None or any(step.key == key and step.kind != WORK for step in steps):
        return missing
    return [step for step in missing if not closes_nothing(step, unit)]


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


def counts_as(step: RunStep, outcome: str, finding: str, *, names_cause: bool) -> str:
    """How an answer counts in a search: as its outcome, or as NOTED where what was found is not the cause.

    A check whose wait was left early says no more than “can't tell”.
    """
    if outcome == LEFT_EARLY and step.kind == CHECK:
        return CANT_TELL
    aside = finding in (BY_THE_WAY, DANGER) and not names_cause
    return NOTED if outcome == FOUND and aside and can_end_search(step) else outcome


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


def standing(steps: Sequence[RunStep], outcomes: Outcomes, unit: UnitState | None) -> dict[str, str]:
    """The answers that still say what is so; the others are open again and ask for a new one.

    A repair that waits for a finding puts right what was found before it, and nothing that was found since.
    """
    by_key = {step.key: step for step in steps}
    found_since: set[str] = set()
    stands = {}
    for key, given in reversed(list(outcomes.items())):
        step = by_key.get(key)
        idle = step is not None and waits_for_a_finding(step) and key in found_since
        if step is not None and given in (FOUND, NOTED):
            found_since |= repairs_named([step])
        if not idle and (step is None or unit is None or unit.still_stands(step)):
            stands[key] = given
    return dict(reversed(stands.items()))


def missing_proof(steps: Sequence[RunStep], outcomes: Outcomes, needs: Mapping[str, frozenset[str]]) -> list[RunStep]:
    """Proof steps without proof, safety work left out, and bolts not tightened again; `steps` are those that apply."""
    return [
        step
        for step in steps
        if (step.kind == PROOF and outcomes.get(step.key) != PROVED)
        or (step.kind == WORK and step.safety and outcomes.get(step.key) in (LEFT_OUT, STILL_PULLING))
        or bolts_are_loose(step, outcomes, needs)
    ]


def bolts_are_loose(step: RunStep, outcomes: Outcomes, needs: Mapping[str, frozenset[str]]) -> bool:
    """Whether the step tightens critical bolts, has not been done, and work that it follows was done."""
    is_open = step.kind == WORK and bool(step.bolts) and step.key not in outcomes
    return is_open and any(outcomes.get(need) == DONE for need in needs[step.key])


@dataclass(frozen=True)
class Next:
    """The step to take next, one sentence why, and the step that it leads `towards`, if only itself.

    `is_plain`: no answer and no other step asks for it, it is the handbook's turn.
    """

    key: str
    why: str
    towards: str = ""
    is_plain: bool = False


def plain_reason(step: RunStep) -> str:
    """Why a step is next when no answer has said anything."""
    return f"Next in the standard order, about {step.minutes:g} minutes."


def next_step(
    steps: Sequence[RunStep],
    facts: Facts,
    outcomes: Outcomes,
    *,
    needs: Mapping[str, frozenset[str]] | None = None,
    elsewhere: Collection[str] = (),
    unit: UnitState | None = None,
) -> Next | None:
    """The next step in handbook order, or None when there is nothing left to do.

    The latest answer that names a step leads there. Otherwise the list goes on from the latest step: every open step
    while the search is on; once a cause is found, only work that was opened, and the proof. What a step needs comes
    before it. `steps` are those that apply, in handbook order; `needs` comes from needs_of over the whole checklist.
    What was answered in another run (`elsewhere`) is done, but the list does not go on from there. Where the state of
    the `unit` is not what a step requires, what brings it about comes first, though it was done before.
    """
    walk = _Walk(steps, needs_of(steps, facts) if needs is None else needs, outcomes, elsewhere, unit)
    for wanted in walk.candidates():
        found = walk.with_its_needs_first(wanted)
        if found is not None:
            said = walk.why(found, wanted)
            return Next(found.step.key, said or plain_reason(found.step), wanted.key, is_plain=not said)
    return None


def waits_for_a_finding(step: RunStep) -> bool:
    """Whether the step is suggested only where a finding names it as its repair."""
    return bool(getattr(step, "on_finding", False))


def repairs_named(found_at: Iterable[RunStep]) -> frozenset[str]:
    """The steps that findings at these steps name as their repair."""
    return frozenset(key for step in found_at for key in answer_of(step, FOUND).get("repair") or ())


def without_idle_repairs(steps: Sequence[_R], outcomes: Outcomes) -> list[_R]:
    """The steps but for those that wait for a finding that was not made; what was answered all the same stays."""
    named = repairs_named(step for step in steps if outcomes.get(step.key) in (FOUND, NOTED))
    return [step for step in steps if not waits_for_a_finding(step) or step.key in named or step.key in outcomes]


@dataclass(frozen=True)
class First:
    """The step to take before another can be, if only itself, and how the unit is that asks for it, in words."""

    step: RunStep
    because: str = ""

    @property
    def sentence(self) -> str:
        """How the unit is that asks for it, as a sentence; "" where nothing does."""
        return f"{self.because[:1].upper()}{self.because[1:]}." if self.because else ""


def first_before(
    wanted: RunStep,
    steps: Sequence[RunStep],
    needs: Mapping[str, frozenset[str]],
    outcomes: Outcomes,
    unit: UnitState | None,
) -> First | None:
    """What has to be done before `wanted` is: itself, a step it needs, or one that brings about what it requires.

    None where it needs itself, or where a danger stands before it that no step takes away.
    """
    return _Walk(steps, needs, outcomes, (), unit).with_its_needs_first(wanted)


class _Walk:
    def __init__(
        self,
        steps: Sequence[RunStep],
        needs: Mapping[str, frozenset[str]],
        outcomes: Outcomes,
        elsewhere: Collection[str],
        unit: UnitState | None = None,
    ) -> None:
        self.elsewhere, self.unit = elsewhere, unit
        self.steps, self.needs, self.outcomes = list(steps), needs, outcomes
        self.by_key = {step.key: step for step in steps}
        self.place = {step.key: place for place, step in enumerate(steps)}
        self.over = search_is_over(steps, outcomes)
        self.answered = [key for key in outcomes if key in self.by_key]
        self.led_to, self.led_by = self._led_to()
        self.searches = any(can_end_search(step) for step in steps)

    def _led_to(self) -> tuple[str | None, str | None]:
        """The step that the latest answer with a `next` leads to, and the step that was answered."""
        for key in reversed(self.answered):
            if self.outcomes[key] == NOT_PROVED:
                return None, None  # the search starts again, older answers no longer lead
            target = answer_of(self.by_key[key], self.outcomes[key]).get("next")
            if target in self.by_key and not self._is_older(key, target):
                return target, key
        return None, None

    def _is_older(self, key: str, target: str) -> bool:
        """Whether `target` was answered after `key`, which led there: it leads there no more."""
        given = self.unit.answered if self.unit else {}
        return target in given and key in given and given[target] > given[key] and target not in self.outcomes

    def candidates(self) -> Iterator[RunStep]:
        """Open steps in the order in which they come into question."""
        open_steps = [step for step in self.steps if step.key not in self.outcomes and not self._has_no_use(step)]
        failed = [step for step in self.steps if self.outcomes.get(step.key) == NOT_PROVED]
        proofs = [step for step in self.steps if step.kind == PROOF and (step in open_steps or step in failed)]
        others = [step for step in open_steps if step.kind != PROOF]
        if self.over:
            others = [
                step for step in others if step.kind == WORK and (self._was_opened(step) or self._repairs_it(step))
            ]
        others = [step for step in others if not self._serves_nothing(step)]
        undone = [step for step in others if self._was_undone(step)]
        others = [step for step in others if step not in undone]
        here = self._place_now()
        if self.answered and self.outcomes[self.answered[-1]] == NOT_PROVED:
            # Back to the first check not yet tried.
            ordered = sorted(others, key=lambda step: step.kind != CHECK)
        else:
            later = [step for step in others if self.place[step.key] > here]
            ordered = later if self.over else later + [step for step in others if self.place[step.key] <= here]
        # What was taken apart is put together before anything is proved, wherever the answers lead.
        loose = [step for step in others if bolts_are_loose(step, self.outcomes, self.needs)]
        # Done once and open again: it waits until nothing more is to be opened.
        mending = [step for step in undone if self._mends(step)]
        loose = [*mending, *loose, *(step for step in undone if step not in [*mending, *loose])]
        if self.led_to is not None and self.led_to not in self.outcomes:
            target = self.by_key[self.led_to]
            if target.kind == PROOF:
                yield from mending
                yield from ([target] if loose and self._opens_first(target) else loose)
            elif target in undone:
                yield from mending
            yield target
        yield from ordered
        yield from mending
        if loose:
            yield from (proof for proof in proofs if self._opens_first(proof))
        yield from (*loose, *proofs)
        yield from self._what_closes()

    def _serves_nothing(self, step: RunStep) -> bool:
        """Work of a search that would only open something, or close what is closed.

        What has to be opened comes before the check, or the repair, that wants it open, never by itself.
        """
        if self.unit is None or not self.searches or step.kind != WORK or self._repairs_it(step):
            return False
        if closes_nothing(step, self.unit) or opens_on_the_way(step, self.unit):
            return True
        opens = opens_up(step, self.unit) or asks_to_open(step, self.unit)
        return opens and not (self.over and self._strips_down)

    def _repairs_it(self, step: RunStep) -> bool:
        """Whether it is part of what answers a finding."""
        return step.key in self._repairs or self._mends(step)

    @cached_property
    def _findings(self) -> list[RunStep]:
        return [self.by_key[key] for key in self.answered if self.outcomes[key] in (FOUND, NOTED)]

    @cached_property
    def _repairs(self) -> frozenset[str]:
        """The steps that the findings name as their repair."""
        return repairs_named(self._findings)

    @cached_property
    def _strips_down(self) -> bool:
        """Whether a finding leads to opening the unit and does not say what for: then everything is gone through."""
        for step in self._findings:
            answer = answer_of(step, FOUND)
            target = self.by_key.get(answer.get("next") or "")
            left = answer_of(target, DONE).get("leaves") or {} if target is not None else {}
            faults = any(PARTS[part].finding for part in answer.get("leaves") or {})
            says_what_for = bool(answer.get("repair")) or faults
            if not says_what_for and any(value in PARTS[part].opened for part, value in left.items()):
                return True
        return False

    def _opens_first(self, proof: RunStep) -> bool:
        """Whether something has to be opened before it: then nothing is closed in between, or it would never end."""
        found = self.with_its_needs_first(proof) if self.unit is not None else None
        if found is None or found.step.key == proof.key:
            return False
        left = answer_of(found.step, DONE).get("leaves") or {}
        return bool(left) and not any(PARTS[part].is_closed(value) for part, value in left.items())

    def _mends(self, step: RunStep) -> bool:
        """Whether it mends a fault that was found: that comes before anything is closed."""
        left = answer_of(step, DONE).get("leaves") or {}
        return self.unit is not None and any(
            PARTS[part].finding and part in self.unit.conditions and self.unit.is_open(part) for part in left
        )

    def _has_no_use(self, step: RunStep) -> bool:
        """Whether it waits for a finding that was not made, or is the way on from a loaded chamber, and none is."""
        if waits_for_a_finding(step) and step.key not in self._repairs:
            return True
        return self.unit is not None and self.unit.lacks_a_loaded_chamber(step)

    def _was_undone(self, step: RunStep) -> bool:
        """Whether it was done and what it did is open again."""
        return self.unit is not None and step.key in self.unit.answered and not self.unit.still_stands(step)

    def _what_closes(self) -> list[RunStep]:
        """Steps that close what is open, though they were answered: nothing ends with anything open.

        A fault whose mending somebody left out is his to answer for; ready asks him for the reason.
        """
        if self.unit is None:
            return []
        closing = []
        for part in self.unit.open_parts:
            closers = brought_about_by(part, PARTS[part].closed, self.steps)
            is_left = PARTS[part].finding and any(self.outcomes.get(step.key) == LEFT_OUT for step in closers)
            closing += [] if is_left else closers[:1]
        return closing

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

    def with_its_needs_first(self, wanted: RunStep) -> First | None:
        """`wanted`, or the first step before it: one it needs that is open or holds it back, or one for the state."""
        seen: set[str] = set()

        def first(step: RunStep, because: str, *, asks: bool) -> First | None:
            if step.key in seen:
                return None
            seen.add(step.key)
            # What a check asks to come first it may ask about, such as a fork put together again: then all of it comes.
            missing = missing_needs(step.key, self.steps, self.needs, self.outcomes, None if asks else self.unit)
            if missing:
                held_back = [need for need in missing if need.key in self.outcomes]
                return first((held_back or missing)[0], "", asks=asks)
            for unmet in self.unit.unmet(step) if self.unit else ():
                for provider in brought_about_by(unmet.part, unmet.allowed, self.steps):
                    found = first(provider, unmet.words, asks=False)
                    if found is not None:
                        return found
                if unmet.is_danger:
                    return None
            return First(step, because)

        return first(wanted, "", asks=wanted.kind == CHECK)

    def why(self, found: First, wanted: RunStep) -> str:
        """Why this step is next; empty where no answer and no other step asks for it."""
        said, step = "", found.step
        if wanted.key == self.led_to and self.led_by is not None:
            said = answer_of(self.by_key[self.led_by], self.outcomes[self.led_by]).get("says") or ""
        elif self.answered:
            latest = self.answered[-1]
            said = answer_of(self.by_key[latest], self.outcomes[latest]).get("says") or ""
        if step.key != wanted.key:
            again = " again" if found.because and self.unit and step.key in self.unit.answered else ""
            return " ".join(filter(None, (said, found.sentence, f"It has to come{again} before “{wanted.title}”.")))
        return said
