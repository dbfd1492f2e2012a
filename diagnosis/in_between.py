"""Whether a tick that came in between changes what an answer rests on. Pure.

Two mechanics work at one unit: what one ticks is no news to the other's step where it changes neither that step, nor a
step that it needs or that needs it, nor a part of the unit that the step requires, opens, proves or leaves, nor one
that the safeguard looks at before it lets the answer in. A checklist that says nothing of the unit's parts cannot tell
what touches what: there every tick is news.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diagnosis.unit_parts import CHAMBERS, HOLDS_AIR, PARTS
from diagnosis.unit_state import TAKEN_BACK, StateStep, declares, effects, opened_on_the_way

Needs = Mapping[str, frozenset[str]]
_BEARING = frozenset(key for key, part in PARTS.items() if part.bears)


def changed_by(step: StateStep, outcome: str) -> frozenset[str]:
    """Parts that a tick changes or opens on the way; an answer taken back may change whatever the step can."""
    if outcome == TAKEN_BACK:
        return changeable_by(step)
    return frozenset({*effects(step, outcome), *opened_on_the_way(step, outcome)})


def changeable_by(step: StateStep) -> frozenset[str]:
    """Parts that some answer to the step changes or opens."""
    return frozenset({*(step.opens or ()), *_left_by(step)})


def rests_on(step: StateStep) -> frozenset[str]:
    """Parts that an answer to the step is about, and those by which the safeguard judges it."""
    parts = {*(step.requires or ()), *(step.proves or ()), *changeable_by(step)}
    opens = set(step.opens or ()) | {
        part for part, values in _left_by(step).items() if values & set(PARTS[part].opened)
    }
    if opens & _BEARING:
        parts |= set(CHAMBERS)  # nothing that may be under pressure is opened
    if any(values & HOLDS_AIR for part, values in _left_by(step).items() if part in CHAMBERS):
        parts |= _BEARING  # nothing that is open is filled
    return frozenset(parts)


def is_news(step: StateStep, other: StateStep, outcome: str, needs: Needs) -> bool:
    """Whether a tick of `other` changes what an answer to `step` rests on; both are of one checklist."""
    return _linked(step, other, needs) or bool(changed_by(other, outcome) & rests_on(step))


def stand_apart(one: StateStep, other: StateStep, needs: Needs) -> bool:
    """Whether answers to both steps mean the same in either order."""
    crossing = changeable_by(one) & rests_on(other) or changeable_by(other) & rests_on(one)
    return not (_linked(one, other, needs) or crossing)


def can_tell(steps: Iterable[StateStep]) -> bool:
    """Whether a checklist says anything of the unit's parts."""
    return any(declares(step) for step in steps)


def news_of(
    step_key: str, ticks: Sequence[tuple[StateStep, str]], steps: Sequence[StateStep], needs: Needs
) -> list[int]:
    """The places of those ticks, as (step, outcome), that are news to an answer; all where nobody can tell."""
    step = next((step for step in steps if step.key == step_key), None)
    if step is None or not can_tell(steps):
        return list(range(len(ticks)))
    return [place for place, (other, outcome) in enumerate(ticks) if is_news(step, other, outcome, needs)]


def _linked(step: StateStep, other: StateStep, needs: Needs) -> bool:
    return step.key == other.key or other.key in needs.get(step.key, ()) or step.key in needs.get(other.key, ())


def _left_by(step: StateStep) -> dict[str, set[str]]:
    """By part, the conditions that answers to the step can leave."""
    left: dict[str, set[str]] = {}
    for answer in (step.answers or {}).values():
        for part, value in (answer.get("leaves") or {}).items():
            left.setdefault(part, set()).add(value)
    return left
