"""How long each step took, from the times of the ticks, with pauses left out. Pure.

A step lasts from the tick before it, or from the start of its checklist, to its own tick. Two things would make
that a lie, so they are set apart and said:

- a pause: more than ``LONGEST_MINUTES`` and more than ``TIMES_PLANNED`` times the planned minutes. The bench was
  left, and nobody knows how much of it was work, so none of it counts.
- steps ticked together: less than ``TOGETHER_MINUTES`` after the tick before. The time of all of them stands with
  the first, so it counts for the ticket, but tells nothing of any one step.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

LONGEST_MINUTES = 30.0
TIMES_PLANNED = 3.0
TOGETHER_MINUTES = 10 / 60

Key = TypeVar("Key", bound=Hashable)


@dataclass(frozen=True)
class ClockedTick(Generic[Key]):
    """That a step was ticked at a moment. Ticks of checklists worked side by side share one clock."""

    key: Key
    planned_minutes: float
    at: dt.datetime


@dataclass(frozen=True)
class StepTime:
    """What the clock says of one step: minutes that count, and minutes left out as pauses."""

    minutes: float = 0.0
    pause_minutes: float = 0.0
    ticked_together: bool = False
    corrected: bool = False

    @property
    def tells_the_step(self) -> bool:
        """Whether the minutes say how long this step takes: no pause in them, and not ticked with others."""
        return self.corrected or not (self.pause_minutes or self.ticked_together)


def pause_limit_minutes(planned_minutes: float) -> float:
    """The longest gap that still counts as work on a step."""
    return max(LONGEST_MINUTES, TIMES_PLANNED * planned_minutes)


def step_times(
    starts: Iterable[dt.datetime],
    ticks: Iterable[ClockedTick[Key]],
    corrected_minutes: Mapping[Key, float] | None = None,
) -> dict[Key, StepTime]:
    """The time of each step by its key, in the order of their first ticks.

    Args:
        starts: when each checklist on this clock was begun.
        ticks: in any order; a step ticked again adds to its time.
        corrected_minutes: what somebody wrote down instead, by key; it takes the place of what the clock says.
    """
    events: list[tuple[dt.datetime, int, ClockedTick[Key] | None]] = [(start, -1, None) for start in starts]
    events += [(tick.at, place, tick) for place, tick in enumerate(ticks)]
    events.sort(key=lambda event: event[:2])
    times: dict[Key, StepTime] = {}
    before_at: dt.datetime | None = None
    before: ClockedTick[Key] | None = None
    for at, _, tick in events:
        if tick is not None:
            gap = (at - before_at).total_seconds() / 60 if before_at else 0.0
            together = gap < TOGETHER_MINUTES
            if together and before is not None:
                times[before.key] = _with(times[before.key], ticked_together=True)
            paused = gap > pause_limit_minutes(tick.planned_minutes)
            so_far = times.get(tick.key, StepTime())
            times[tick.key] = StepTime(
                so_far.minutes + (0.0 if paused else gap),
                so_far.pause_minutes + (gap if paused else 0.0),
                so_far.ticked_together or together,
            )
        before_at, before = at, tick
    for key, minutes in (corrected_minutes or {}).items():
        times[key] = StepTime(minutes, 0.0, corrected=True)
    return times


def _with(time: StepTime, *, ticked_together: bool) -> StepTime:
    return StepTime(time.minutes, time.pause_minutes, ticked_together, time.corrected)
