"""How each complaint's cause was found, for the customer: what was tried first, what that ruled out, cause and cure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from diagnosis.layout_plans import CAUSE
from diagnosis.models import Cause, Step, Tick
from diagnosis.planning import causes_within_reach
from diagnosis.runs_rules import can_end_search
from diagnosis.runs_state import FoundState, RunState, StepState
from workshop.documents.pictures import cause_drawing
from workshop.documents.run_block import readings_read, was_read
from workshop.staff.models import Shop

Told = Mapping[tuple[int | None, int | None], Mapping[str, Any]]
"""What a paper says of findings besides, each by its `FoundState.told_by`."""
SURE_ENOUGH = 0.5
"""A check that misses a cause more often than not has not ruled it out."""


def search_blocks(states: Sequence[RunState], shop: Shop, since: Told | None = None) -> list[dict[str, Any]]:
    """A block for each run that looks for a cause: its looks in the order in which they were made, and what it found.

    A look that an earlier complaint's block tells of is not told again, and a finding is then only named. `since`
    has what replaces or joins the words of findings.
    """
    looked_for = [state for state in states if state.run.checklist.priors]
    titles = _titles(looked_for)
    told: set[str] = set()
    told_in: dict[tuple[int | None, int | None], str] = {}
    blocks = []
    for state in looked_for:
        found_causes = {found.cause.key for found in state.found if found.cause}
        looks = [
            state.by_key[key]
            for key, outcome in state.outcomes.items()
            if outcome == Tick.Outcome.RULED_OUT and state.by_key[key].step.for_customer and was_read(state.by_key[key])
        ]
        ruled_out = {look.key: _ruled_out(state, look, found_causes, titles) for look in looks}
        blocks.append(
            {
                "title": state.run.checklist.title,
                "ruled_out": list(dict.fromkeys(word for words in ruled_out.values() for word in words)),
                "tried": [
                    {
                        "did": look.step.for_customer,
                        "read": readings_read(look, shop),
                        "rules_out": "; ".join(ruled_out[look.key]),
                    }
                    for look in looks
                    if look.key not in told
                ],
                "told_above": any(look.key in told for look in looks),
                "found": [
                    cause_block(found, shop)
                    | cause_drawing(found.cause.key if found.cause else "", str(state.run.facts.get("kind")))
                    | {"told_in": told_in.get(found.told_by, "")}
                    | dict((since or {}).get(found.told_by, {}))
                    for found in state.found
                    if can_end_search(found.step) and (found.kind == CAUSE or found.cause is not None)
                ],
            }
        )
        told |= {look.key for look in looks}
        for found in state.found:
            told_in.setdefault(found.told_by, state.run.checklist.title)
    return blocks


def _titles(states: Iterable[RunState]) -> Mapping[str, str]:
    keys = {key for state in states for key in state.run.checklist.priors}
    return dict(Cause.objects.filter(key__in=keys).values_list("key", "title")) if keys else {}


def _ruled_out(state: RunState, look: StepState, found: set[str], titles: Mapping[str, str]) -> list[str]:
    """The causes that this look leaves no room for, the surest first, such as “too little air”."""
    steps: list[Step] = [entry.step for entry in state.steps]
    within_reach = causes_within_reach(steps, state.run.facts, state.run.checklist.priors)
    named = [
        (-chance, titles[cause])  # PostgreSQL keeps a JSON object's keys in an order of its own
        for cause, chance in look.step.ends_search.items()
        if chance >= SURE_ENOUGH and cause in within_reach and cause not in found and cause in titles
    ]
    return [title[0].lower() + title[1:] for _, title in sorted(named)]


def cause_block(found: FoundState, shop: Shop) -> dict[str, Any]:
    """A finding without a named cause is told by what its step looked for, and what was seen there."""
    tick = found.step_state.tick
    return {
        "title": found.cause.title if found.cause else "",
        "text": found.cause.for_customer if found.cause else found.step.for_customer,
        "seen": "" if found.cause else found.step.counts_as_found,
        "how": found.step.for_customer if found.cause else "",
        "read": readings_read(found.step_state, shop),
        "cure": found.cure,
        "note": tick.note if tick else "",
    }
