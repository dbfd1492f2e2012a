"""What is different between two versions of a checklist, in words. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from diagnosis.cautions import LEVELS
from diagnosis.declared import LIVES, MEASURES, PORT_TRIES, SERVICES
from diagnosis.layout_facts import facts_in_words
from diagnosis.layout_plans import (
    BOLTS,
    FINDINGS,
    MOVES,
    AnswerPlan,
    ChecklistPlan,
    LinePlan,
    PartPlan,
    ReadingPlan,
    StepPlan,
)
from diagnosis.reading_kinds import kind_words
from diagnosis.unit_parts import PARTS, leave_words, require_words
from diagnosis.wanted import WANTED
from specs.quantities import QUANTITIES

OUTCOME_WORDS: Mapping[str, str] = {
    "ruled_out": "ruled out",
    "found": "found",
    "cant_tell": "can’t tell",
    "done": "done",
    "left_out": "left out",
    "still_pulling": "still pulling: stop",
    "proved": "proved",
    "not_proved": "not proved",
    "left_early": "its wait left early",
}


@dataclass(frozen=True)
class StepChanges:
    """What became of one step: added, retired, or changed in these ways."""

    title: str
    fate: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True)
class Comparison:
    """What is different: about the complaint and its causes, and step by step."""

    head: tuple[str, ...]
    steps: tuple[StepChanges, ...]

    def __bool__(self) -> bool:
        return bool(self.head or self.steps)

    def __len__(self) -> int:
        return len(self.head) + len(self.steps)


def compare(before: ChecklistPlan | None, after: ChecklistPlan) -> Comparison:
    """What `after` changes against `before`; a checklist that was not there is all new."""
    if before is None:
        return Comparison((f"A new checklist with {len(after.causes)} causes.",), tuple(_added(after.steps, after)))
    return Comparison(tuple(_head(before, after)), tuple(_steps(before, after)))


def _head(before: ChecklistPlan, after: ChecklistPlan) -> Iterator[str]:
    yield from _value("Complaint", before.complaint.title, after.complaint.title)
    yield from _items("Customer’s words", before.complaint.symptoms, after.complaint.symptoms)
    yield from _items("Suits", sorted(before.complaint.suits), sorted(after.complaint.suits))
    yield from _value("Title", before.title, after.title)
    yield from _value("Summary", before.summary, after.summary)
    yield from _value("Source of the chances", before.chances_source, after.chances_source)
    if before.is_routine != after.is_routine:
        yield "Now a routine service." if after.is_routine else "No longer a routine service."
    old, new = ({cause.key: cause for cause in plan.causes} for plan in (before, after))
    for key, cause in new.items():
        if key not in old:
            yield f"New cause “{cause.title}”, weight {cause.prior:g}."
            continue
        yield from _value(f"Cause “{old[key].title}”", old[key].title, cause.title)
        yield from _value(f"Cause “{cause.title}”, to the customer", old[key].for_customer, cause.for_customer)
        worn = [[LIVES[part] for part in one.ends_life] for one in (old[key], cause)]
        yield from _items(f"Cause “{cause.title}”, worn out", *worn)
        yield from _value(f"Cause “{cause.title}”, weight", f"{old[key].prior:g}", f"{cause.prior:g}")
    for key, cause in old.items():
        if key not in new:
            yield f"Cause “{cause.title}” is removed."


def _added(steps: Sequence[StepPlan], after: ChecklistPlan) -> Iterator[StepChanges]:
    for place, step in enumerate(steps):
        where = f"After “{steps[place - 1].title}”." if place else "First in the list."
        yield StepChanges(step.title, "new", (where,))


def _steps(before: ChecklistPlan, after: ChecklistPlan) -> Iterator[StepChanges]:
    old = {step.key: step for step in before.steps}
    new = {step.key for step in after.steps}
    moved = _moved([step.key for step in before.steps if step.key in new],
                   [step.key for step in after.steps if step.key in old])  # fmt: skip
    words = _Words(before, after)
    for place, step in enumerate(after.steps):
        where = f"after “{after.steps[place - 1].title}”" if place else "first in the list"
        if step.key not in old:
            instead = [words.step(key) for key in step.replaces]
            details = [f"It stands {where}."] + ([f"In place of {_listed(instead)}."] if instead else [])
            yield StepChanges(step.title, "new", tuple(details))
            continue
        details = list(_step(old[step.key], step, words))
        if step.key in moved:
            details.insert(0, f"Moved: now {where}.")
        if details:
            yield StepChanges(old[step.key].title, "changed", tuple(details))
    for key, step in old.items():
        if key not in new:
            by = next((other for other in after.steps if key in other.replaces), None)
            yield StepChanges(step.title, "retired", (f"Replaced by “{by.title}”.",) if by else ())


def _moved(before: Sequence[str], after: Sequence[str]) -> set[str]:
    """Keys to move so that one order becomes the other; those that stay in line did not move."""
    blocks = SequenceMatcher(a=before, b=after, autojunk=False).get_matching_blocks()
    stayed = {key for block in blocks for key in before[block.a : block.a + block.size]}
    return set(after) - stayed


@dataclass(frozen=True)
class _Words:
    """Titles of the steps and causes of both versions, the newer one first."""

    before: ChecklistPlan
    after: ChecklistPlan

    def step(self, key: str) -> str:
        return next((f"“{step.title}”" for plan in (self.after, self.before) for step in plan.steps if step.key == key),
                    f"“{key}”")  # fmt: skip

    def cause(self, key: str) -> str:
        return next((f"“{one.title}”" for plan in (self.after, self.before) for one in plan.causes if one.key == key),
                    f"“{key}”")  # fmt: skip


def _step(old: StepPlan, new: StepPlan, words: _Words) -> Iterator[str]:
    yield from _value("Title", old.title, new.title)
    yield from _value("Kind", old.kind, new.kind)
    yield from _items("Do", [_line(line) for line in old.do], [_line(line) for line in new.do])
    yield from _items("Look for", old.look_for, new.look_for)
    yield from _value("Counts as found", old.counts_as_found, new.counts_as_found)
    yield from _value("Minutes", f"{old.minutes:g}", f"{new.minutes:g}")
    yield from _value("Skill", old.skill, new.skill)
    yield from _items("Tools", old.tools, new.tools)
    yield from _items("Take", old.consumables, new.consumables)
    yield from _items("Cautions", [one.title for one in old.cautions], [one.title for one in new.cautions])
    reworded = {one.key: one for one in old.cautions}
    for caution in new.cautions:
        if caution.key in reworded and reworded[caution.key].title == caution.title:
            yield from _value(f"Caution “{caution.title}”", reworded[caution.key].text, caution.text)
            levels = [LEVELS[one.level] for one in (reworded[caution.key], caution)]
            yield from _value(f"Level of the caution “{caution.title}”", *levels)
    yield from _items("Needs", [words.step(key) for key in old.needs], [words.step(key) for key in new.needs])
    if old.safety != new.safety:
        yield "Now a safety step." if new.safety else "No longer a safety step."
    yield from _value("On which units", facts_in_words(old.only_if) or "all", facts_in_words(new.only_if) or "all")
    labels = [[QUANTITIES[key].label for key in step.shows] for step in (old, new)]
    yield from _items("Values shown", *labels)
    yield from _readings(old.readings, new.readings)
    timers = [f"{step.timer.minutes:g} min, {step.timer.label}" if step.timer else "none" for step in (old, new)]
    yield from _value("Timer", *timers)
    bolts = [[QUANTITIES[BOLTS[bolt]].label for bolt in step.bolts] for step in (old, new)]
    yield from _items("Safety-critical bolts", *bolts)
    yield from _items("It requires", *[_required(step.requires) for step in (old, new)])
    yield from _items("It opens", *[[PARTS[part].label for part in step.opens] for step in (old, new)])
    yield from _value("How it loads the bike", *[MOVES.get(step.moves, "not at all") for step in (old, new)])
    yield from _items("It proves", *[[PARTS[part].label for part in step.proves] for step in (old, new)])
    yield from _declared(old, new, words)
    for cause in sorted({*old.ends_search, *new.ends_search}):
        chances = [f"{step.ends_search[cause]:g}" if cause in step.ends_search else "none" for step in (old, new)]
        yield from _value(f"Chance to find {words.cause(cause)}", *chances)
    for outcome in dict.fromkeys((*old.answers, *new.answers)):
        yield from _answer(OUTCOME_WORDS[outcome], old.answers.get(outcome), new.answers.get(outcome), words)
    yield from _value("To the customer", old.for_customer, new.for_customer)
    yield from _items(
        "In place of", [words.step(key) for key in old.replaces], [words.step(key) for key in new.replaces]
    )


def _declared(old: StepPlan, new: StepPlan, words: _Words) -> Iterator[str]:
    """What no rule would know without being told: pairs, services, lives, the air spring's port."""
    closers = [words.step(step.closed_by) if step.closed_by else "nothing" for step in (old, new)]
    yield from _value("Put together again by", *map(_bare, closers))
    yield from _items("Part of", *[[SERVICES[service] for service in step.services] for step in (old, new)])
    yield from _items("Makes new", *[[LIVES[part] for part in step.renews] for step in (old, new)])
    yield from _value("Tries to free the port", *[PORT_TRIES.get(step.frees_port, "no") for step in (old, new)])
    if old.spring_answer != new.spring_answer:
        yield f"The air spring’s whole answer {'stands here now' if new.spring_answer else 'stands here no longer'}."
    if old.on_finding != new.on_finding:
        yield "Now suggested only after a finding." if new.on_finding else "No longer suggested only after a finding."


def _readings(old: Sequence[ReadingPlan], new: Sequence[ReadingPlan]) -> Iterator[str]:
    before, after = ({reading.key: reading for reading in readings} for readings in (old, new))
    for key, reading in after.items():
        if key not in before:
            yield f"New reading “{reading.label}”{', required' if reading.required else ''}."
            continue
        was, name = before[key], f"Reading “{before[key].label}”"
        yield from _value(f"{name}, label", was.label, reading.label)
        yield from _value(f"{name}, quantity", kind_words(was.quantity), kind_words(reading.quantity))
        yield from _value(f"{name}, unit", was.unit, reading.unit)
        yield from _value(f"{name}, range", *(f"{one.low} to {one.high}" if one.low else "" for one in (was, reading)))
        yield from _items(f"{name}, choices", was.choices, reading.choices)
        yield from _value(f"{name}, help", was.help, reading.help)
        yield from _value(f"{name}, compared with", _wanted(was.wanted), _wanted(reading.wanted))
        yield from _value(f"{name}, never above", _wanted(was.most), _wanted(reading.most))
        if was.as_found != reading.as_found:
            yield f"{name} is {'now' if reading.as_found else 'no longer'} taken as it was found."
        measured = [MEASURES[one.measures].label if one.measures else "only noted" for one in (was, reading)]
        yield from _value(f"{name}, it is", *measured)
        if was.required != reading.required:
            yield f"{name} is {'now required' if reading.required else 'no longer required'}."
    for key, reading in before.items():
        if key not in after:
            yield f"Reading “{reading.label}” is removed."
    if list(before) != list(after) and set(before) == set(after):
        yield "The readings are in another order."


def _wanted(key: str) -> str:
    """What a reading is held against, in words."""
    if not key:
        return "nothing"
    return WANTED[key].label if key in WANTED else QUANTITIES[key].label


def _answer(outcome: str, old: AnswerPlan | None, new: AnswerPlan | None, words: _Words) -> Iterator[str]:
    if new is None:
        yield f"Nothing is said any more for “{outcome}”."
        return
    was, name = old or AnswerPlan(), f"If {outcome}"
    causes = [words.cause(answer.cause) if answer.cause else "none named" for answer in (was, new)]
    yield from _value(f"{name}, the cause", *causes)
    steps = [words.step(answer.next) if answer.next else "on in order" for answer in (was, new)]
    yield from _value(f"{name}, it leads to", *steps)
    yield from _value(f"{name}, says", was.says, new.says)
    yield from _value(f"{name}, cure", was.cure, new.cure)
    yield from _items(f"{name}, parts", [_part(part) for part in was.parts], [_part(part) for part in new.parts])
    yield from _value(f"{name}, passed on to", was.escalate or "nobody", new.escalate or "nobody")
    yield from _items(f"{name}, it leaves", *[_left(answer.leaves) for answer in (was, new)])
    yield from _value(f"{name}, it is most likely", *[_kind(answer.finding) for answer in (was, new)])
    yield from _items(f"{name}, answered by", *[[words.step(key) for key in one.repair] for one in (was, new)])
    yield from _value(f"{name}, tell the customer", was.call_customer or "", new.call_customer or "")


_REQUIRED, _LEFT = dict(require_words()), dict(leave_words())


def _required(requires: Mapping[str, Sequence[str]]) -> list[str]:
    return [" or ".join(_REQUIRED[f"{part}={value}"] for value in values) for part, values in requires.items()]


def _kind(finding: str | None) -> str:
    return FINDINGS[finding].lower() if finding else "not said"


def _left(leaves: Mapping[str, str]) -> list[str]:
    return [_LEFT[f"{part}={value}"] for part, value in leaves.items()]


def _line(line: LinePlan) -> str:
    return f"{facts_in_words(line.when)}: {line.text}" if line.when else line.text


def _part(part: PartPlan) -> str:
    role = part.role.replace("_", " ")
    return f"{part.quantity} × {role}" + (f" ({part.note})" if part.note else "")


def _value(name: str, old: str, new: str) -> Iterator[str]:
    if old != new:
        if not old or not new:
            yield f"{name} {'is now' if new else 'was'} “{new or old}”{'' if new else ' and is now empty'}."
        else:
            yield f"{name}: “{old}” is now “{new}”."


def _items(name: str, old: Sequence[str], new: Sequence[str]) -> Iterator[str]:
    """Entries that came, went or were reworded, in the order of the list."""
    for kind, a_from, a_to, b_from, b_to in SequenceMatcher(a=old, b=new, autojunk=False).get_opcodes():
        gone, come = old[a_from:a_to], new[b_from:b_to]
        if kind == "replace" and len(gone) == len(come):
            for was, now in zip(gone, come, strict=True):
                yield f"{name}: “{_bare(was)}” is now “{_bare(now)}”."
        elif kind != "equal":
            if gone:
                yield f"{name}, removed: {_listed(gone)}."
            if come:
                yield f"{name}, added: {_listed(come)}."


def _bare(text: str) -> str:
    return text.removeprefix("“").removesuffix("”")


def _listed(texts: Sequence[str]) -> str:
    return ", ".join(f"“{_bare(text)}”" for text in texts)
