"""The runs of a ticket shown as one job: which to go on with, what a step counts for, what is still wanted open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from diagnosis.runs_state import RunState, StepState
from diagnosis.shared_steps import done_but_asked_again, go_on_with, is_alike, shared_keys, waits_for
from workshop.bench.planning import PlannedRun


@dataclass(frozen=True)
class JobShown:
    """The runs of a ticket, oldest first, each in the order that is followed; the open one is at place `current`."""

    runs: Sequence[PlannedRun]
    current: int = 0

    @property
    def states(self) -> list[RunState]:
        return [planned.run_state for planned in self.runs]

    @property
    def is_several(self) -> bool:
        return len(self.runs) > 1

    @cached_property
    def go_on_with(self) -> int | None:
        """The place of the run whose next step comes next in the job; None when nothing is left in any."""
        coming = [state.next.step.key if state.next else None for state in self.states]
        return go_on_with([state.side for state in self.states], coming, self.current)

    @property
    def coming(self) -> RunState | None:
        """The run to go on with."""
        return None if self.go_on_with is None else self.states[self.go_on_with]

    @property
    def is_elsewhere(self) -> bool:
        """Whether the next step of the job is in another run than the open one."""
        return self.go_on_with is not None and self.go_on_with != self.current

    def also_in(self, key: str) -> list[str]:
        """Titles of the other runs in which an answer to this step of the open one counts."""
        own = self.states[self.current].side
        return [
            state.run.checklist.title
            for place, state in enumerate(self.states)
            if place != self.current and key in shared_keys(own, state.side)
        ]

    def same_steps(self, key: str) -> set[int]:
        """The ids of this step of the open run, and of those in the others that are the same work on the unit."""
        own = self.states[self.current]
        return {
            state.by_key[key].step.pk for state in self.states if state is own or is_alike(own.side, state.side, key)
        }

    def done_in(self, key: str) -> list[StepState]:
        """This step of the open run where another run has done it, but asked it for other causes."""
        own = self.states[self.current].side
        return [
            state.by_key[key]
            for place, state in enumerate(self.states)
            if place != self.current and key in done_but_asked_again(own, state.side)
        ]

    def wanted_open(self, key: str) -> list[tuple[RunState, StepState]]:
        """Steps of the other runs that want open what this step of the open one would close."""
        sides = [state.side for state in self.states]
        return [
            (self.states[place], self.states[place].by_key[wanted])
            for place, wanted in waits_for(sides, self.current, key)
        ]
