"""What a new version of a checklist may not lose: safety steps, their place, what they require, and proof."""

from __future__ import annotations

from collections.abc import Iterator

from diagnosis.layout_plans import PROOF, ChecklistPlan, LayoutError, StepPlan
from diagnosis.unit_parts import CLOSED, PARTS, allowed_values


def safeguard_problems(file: str, before: ChecklistPlan, after: ChecklistPlan) -> Iterator[LayoutError]:
    """What `after` loses of the version in use.

    A safety step or a proof step may go only where another of its kind names it under `replaces`. A safety step that
    stays keeps its place among the steps that stay: what came before it comes before it, what came after it, after.
    What such a step requires of the unit stays required, by itself or by what replaces it, and no less strictly; what a
    proof proves stays proved.
    """
    for step in before.steps:
        if step.safety or step.kind == PROOF:
            yield from _lost(file, step, after)
            yield from _loosened(file, step, after)
    yield from _moved(file, before, after)


def replacement_of(step: StepPlan, after: ChecklistPlan) -> StepPlan | None:
    """The step that takes the place of `step`: a safety step that of a safety step, a proof that of a proof."""
    for other in after.steps:
        if step.key in other.replaces and _stands_in(step, other):
            return other
    return None


def _stands_in(step: StepPlan, other: StepPlan) -> bool:
    return (other.safety or not step.safety) and (other.kind == PROOF or step.kind != PROOF)


def _lost(file: str, step: StepPlan, after: ChecklistPlan) -> Iterator[LayoutError]:
    kept = next((other for other in after.steps if other.key == step.key), None)
    if (kept is not None and _stands_in(step, kept)) or replacement_of(step, after):
        return
    what = "proof" if step.kind == PROOF else "safety"
    also = " that is a safety step as well" if step.kind == PROOF and step.safety else ""
    if kept is None:
        reason = f"the {what} step “{step.title}” is gone; name the {what} step{also} that replaces it"
        yield LayoutError(file, step.key, reason, field="replaced_by")
    else:
        reason = f"“{step.title}” was a {what} step{also}; name the {what} step that replaces it, or keep it as it was"
        yield LayoutError(file, step.key, reason, field="safety" if step.safety else "kind")


def _loosened(file: str, step: StepPlan, after: ChecklistPlan) -> Iterator[LayoutError]:
    """What the step, or its replacement, no longer requires of the unit, and what it proves no more."""
    heir = next((other for other in after.steps if other.key == step.key), None) or replacement_of(step, after)
    if heir is None:
        return  # said already: it is gone
    for part, words in step.requires.items():
        allowed = allowed_values(part, heir.requires[part]) if part in heir.requires else None
        if allowed is None or not allowed <= allowed_values(part, words):
            wanted = " or ".join(PARTS[part].label + ": " + _as_words(part, word) for word in words)
            reason = f"“{heir.title}” keeps what “{step.title}” required ({wanted})"
            beside = f"Keep what “{step.title}” required: {wanted}."
            yield LayoutError(file, heir.key, reason, field="requires", beside=beside)
    for part in step.proves:
        if part not in heir.proves:
            reason = f"“{heir.title}” proves {PARTS[part].named}, as “{step.title}” did"
            yield LayoutError(
                file, heir.key, reason, field="proves", beside=f"Keep {PARTS[part].named} among what it proves."
            )


def _as_words(part: str, word: str) -> str:
    return "closed, or as it came in" if word == CLOSED else PARTS[part].in_words(word)


def _moved(file: str, before: ChecklistPlan, after: ChecklistPlan) -> Iterator[LayoutError]:
    old = {step.key: place for place, step in enumerate(before.steps)}
    new = {step.key: place for place, step in enumerate(after.steps)}
    stayed = [step for step in before.steps if step.key in new]
    for step in stayed:
        if not step.safety or replacement_of(step, after):
            continue
        for other in stayed:
            if other.safety and old[other.key] < old[step.key]:
                continue  # said once, at the earlier of two safety steps
            if (old[other.key] < old[step.key]) != (new[other.key] < new[step.key]):
                then, now = ("before", "after") if old[other.key] < old[step.key] else ("after", "before")
                reason = (
                    f"a safety step keeps its place: “{other.title}” came {then} “{step.title}” "
                    f"and would now come {now} it"
                )
                yield LayoutError(file, step.key, reason, field="place")
                break
