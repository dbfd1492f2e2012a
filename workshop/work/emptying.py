"""What letting the air out of a ticket's fork leaves in its negative chamber, or why that is not known."""

from __future__ import annotations

from dataclasses import dataclass

from diagnosis.emptying_answer import EmptyingAnswer, what_stays
from diagnosis.hanging import what_hangs
from diagnosis.models import Step
from diagnosis.runs_state import RunState
from diagnosis.unit_parts import CHAMBERS, EMPTY
from workshop.staff.models import Shop
from workshop.work.rests import mounted_now, rests_read
from workshop.work.spring import SpringShown

_LOADED = "Take the negative chamber as loaded, and hold the core open until the fork is drawn out through its port."


@dataclass(frozen=True)
class Emptying:
    """An answer, or in words why there is none."""

    answer: EmptyingAnswer | None
    unknown: str = ""
    before: str = ""
    """What is said first where the answer is for the air as it came in."""


def empties(step: Step) -> bool:
    """Whether an answer of the step says that a chamber is empty after it."""
    left = [answer.get("leaves") or {} for answer in (step.answers or {}).values()]
    return any(one.get(chamber) == EMPTY for one in left for chamber in CHAMBERS)


def emptying(state: RunState, shown: SpringShown | None, shop: Shop, *, on_a_bike: bool) -> Emptying:
    """For the air that the newest answer found, with what hangs on the fork now."""
    if shown is None:
        return Emptying(None, f"What stays behind is not known without the rest depth and the pump reading. {_LOADED}")
    if shown.answer is None:
        return Emptying(None, f"What stays behind cannot be computed: this fork’s geometry is not known. {_LOADED}")
    mounted = mounted_now(state.unit.conditions, on_a_bike=on_a_bike)
    hanging = what_hangs(mounted, rests_read([state], on_a_bike=on_a_bike).weighed, shop.unit_for)
    answer = what_stays(shown.answer, hanging, shop.unit_for)
    if answer is None:
        return Emptying(None, f"What stays behind is not known, for the readings contradict each other. {_LOADED}")
    waits = shown.story is not None and shown.story.waits
    return Emptying(answer, before="Its pressure is not known any more; with the air as it came in: " if waits else "")
