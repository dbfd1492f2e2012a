"""A checklist written out from the first word to the last, for somebody who reads it through on one page. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from diagnosis.cautions import LEVELS, NOTICE
from diagnosis.comparing import OUTCOME_WORDS
from diagnosis.declared import LIVES, MEASURES, PORT_TRIES, SERVICES
from diagnosis.layout_facts import facts_in_words
from diagnosis.layout_plans import (
    BOLTS,
    FINDINGS,
    MOVES,
    AnswerPlan,
    CautionPlan,
    ChecklistPlan,
    ReadingPlan,
    StepPlan,
    outcomes_of,
)
from diagnosis.reading_kinds import kind_words
from diagnosis.unit_parts import PARTS, leave_words, require_words
from diagnosis.wanted import MOST, WANTED
from specs.quantities import QUANTITIES


@dataclass(frozen=True)
class CautionInFull:
    """A caution with its signal word, and on which units it concerns anybody."""

    level: str
    word: str
    title: str
    text: str
    on: str

    @property
    def alerts(self) -> bool:
        return self.level != NOTICE


@dataclass(frozen=True)
class AnswerInFull:
    """One way to end a step, and all that follows from it."""

    words: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class StepInFull:
    """One step in the order of the list. `facts` are rows of (label, words), empty ones left out."""

    number: int
    plan: StepPlan
    kind: str
    on: str
    do: tuple[tuple[str, str], ...]
    cautions: tuple[CautionInFull, ...]
    facts: tuple[tuple[str, str], ...]
    readings: tuple[str, ...]
    answers: tuple[AnswerInFull, ...]


@dataclass(frozen=True)
class InFull:
    """The whole checklist: its steps, and the minutes of all of them and of their waits."""

    plan: ChecklistPlan
    steps: tuple[StepInFull, ...]

    @property
    def minutes(self) -> float:
        return sum(step.plan.minutes for step in self.steps)

    @property
    def waits(self) -> float:
        return sum(step.plan.timer.minutes for step in self.steps if step.plan.timer)


KINDS: Mapping[str, str] = {"check": "Check", "work": "Work", "proof": "Proof"}
_REQUIRED, _LEFT = dict(require_words()), dict(leave_words())


def in_full(plan: ChecklistPlan) -> InFull:
    """Everything that a checklist says, in its own order."""
    words = _Words({step.key: step.title for step in plan.steps}, {cause.key: cause.title for cause in plan.causes})
    return InFull(plan, tuple(_step(number, step, words) for number, step in enumerate(plan.steps, start=1)))


@dataclass(frozen=True)
class _Words:
    """Titles of the steps and causes, by key."""

    steps: Mapping[str, str]
    causes: Mapping[str, str]

    def listed(self, keys: Sequence[str]) -> str:
        return ", ".join(f"“{self.steps.get(key, key)}”" for key in keys)


def _step(number: int, step: StepPlan, words: _Words) -> StepInFull:
    return StepInFull(
        number=number,
        plan=step,
        kind=KINDS[step.kind],
        on=facts_in_words(step.only_if),
        do=tuple((facts_in_words(line.when), line.text) for line in step.do),
        cautions=tuple(_caution(one) for one in sorted(step.cautions, key=lambda one: list(LEVELS).index(one.level))),
        facts=tuple((label, said) for label, said in _facts(step, words) if said),
        readings=tuple(_reading(one) for one in step.readings),
        answers=tuple(
            AnswerInFull(_large(OUTCOME_WORDS[outcome]), tuple(_answer(step.answers.get(outcome), words)))
            for outcome in outcomes_of(step.kind, step.answers)
        ),
    )


def _caution(one: CautionPlan) -> CautionInFull:
    return CautionInFull(one.level, LEVELS[one.level], one.title, one.text, facts_in_words(one.only_if))


def _facts(step: StepPlan, words: _Words) -> Iterator[tuple[str, str]]:
    yield "Look for", " ".join(step.look_for)
    yield "Counts as found", step.counts_as_found
    yield "Tools", ", ".join(step.tools)
    yield "Take", ", ".join(step.consumables)
    yield "After", words.listed(step.needs)
    yield (
        "The unit must be so",
        "; ".join(
            " or ".join(_REQUIRED[f"{part}={value}"] for value in values) for part, values in step.requires.items()
        ),
    )
    yield "Suggested", "only where a finding names it as its repair" if step.on_finding else ""
    yield "Opens", ", ".join(PARTS[part].label for part in step.opens)
    yield "Put together again by", words.listed([step.closed_by] if step.closed_by else [])
    yield "Proves", ", ".join(PARTS[part].label for part in step.proves)
    yield "How it loads the bike", _large(MOVES.get(step.moves, ""))
    yield "Values shown", ", ".join(QUANTITIES[key].label for key in step.shows)
    yield "Safety-critical bolts", ", ".join(QUANTITIES[BOLTS[bolt]].label for bolt in step.bolts)
    yield "Wait", f"{step.timer.minutes:g} min: {step.timer.label}" if step.timer else ""
    yield "Finds", ", ".join(f"{words.causes.get(key, key)} ({share:.0%})" for key, share in step.ends_search.items())
    yield "Tries to free the port", _large(PORT_TRIES.get(step.frees_port, ""))
    yield "The spring’s answer", "stands here in full" if step.spring_answer else ""
    yield "Part of", ", ".join(SERVICES[service] for service in step.services)
    yield "Makes new", ", ".join(LIVES[part] for part in step.renews)
    yield "In place of", ", ".join(step.replaces)
    yield "To the customer", step.for_customer


def _reading(one: ReadingPlan) -> str:
    said = [f"{one.label}: {kind_words(one.quantity)}"]
    if one.low or one.high:
        said.append(f"from {one.low} to {one.high}")
    if one.choices:
        said.append(" or ".join(one.choices))
    if one.wanted:
        said.append(f"held against: {_wanted(one.wanted)}")
    if one.most:
        said.append(f"never above: {_wanted(one.most)}")
    if one.measures:
        said.append(MEASURES[one.measures].label)
    if one.as_found:
        said.append("as it was found")
    said.append("required" if one.required else "if it is read")
    return "; ".join(said) + "." + (f" {one.help}" if one.help else "")


def _wanted(key: str) -> str:
    if key in WANTED:
        return WANTED[key].label
    return QUANTITIES[key].label if key in QUANTITIES else MOST[key]


def _answer(answer: AnswerPlan | None, words: _Words) -> Iterator[str]:
    if answer is None:
        return
    if answer.cause:
        yield f"The cause is “{words.causes.get(answer.cause, answer.cause)}”."
    if answer.finding:
        yield f"Most likely: {FINDINGS[answer.finding]}."
    yield from (said for said in (answer.says, answer.cure) if said)
    for part in answer.parts:
        note = f" ({part.note})" if part.note else ""
        yield f"Part: {part.quantity} × {part.role.replace('_', ' ')}{note}."
    if answer.repair:
        yield f"Answered by {words.listed(answer.repair)}."
    if answer.leaves:
        yield "It leaves " + "; ".join(_LEFT[f"{part}={value}"] for part, value in answer.leaves.items()) + "."
    if answer.escalate:
        yield f"Passed on to whoever does the {answer.escalate}."
    if answer.call_customer:
        yield f"Call the customer: {answer.call_customer}"
    if answer.next:
        yield f"Then “{words.steps.get(answer.next, answer.next)}”."


def _large(words: str) -> str:
    return words[:1].upper() + words[1:]
