"""Why a tick, or taking one back, is not stored. The messages are in the shop's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnosis.models import Run, Step, Tick


class NotCovered(ValueError):
    """The checklist does not cover this kind of unit; the message says what to do instead."""


class StaleRun(Exception):
    """Somebody ticked in this run after the sender saw it. `since` holds those ticks, oldest first."""

    def __init__(self, run: Run, since: list[Tick]) -> None:
        super().__init__(f"{run.checklist} was ticked from another screen meanwhile.")
        self.run, self.since = run, since


class ReusedClientId(StaleRun):
    """The id was used for another answer. `since` holds the tick that has it."""


class TickRefused(ValueError):
    """The tick is not lawful here; the message says why, in the shop's words."""

    def add(self, words: str) -> None:
        """Say more."""
        self.args = (f"{self} {words}",)


class WaitsForOthers(TickRefused):
    """Answers that were given before it are not in yet, and it does not stand apart from them. It waits its turn."""

    def __init__(self, step: Step) -> None:
        super().__init__(f"“{step.title}” waits for an answer that was given before it.")


class StepNeedsOthers(TickRefused):
    """Steps that must come first have not been done; `missing` names them, `dangers` say what could hurt somebody."""

    def __init__(self, step: Step, missing: list[Step], dangers: Sequence[str] = ()) -> None:
        titles = ", ".join(f"“{other.title}”" for other in missing)
        why = f" Dangerous now: {', and '.join(dangers)}." if dangers else ""
        super().__init__(f"“{step.title}” has to wait. First do {titles}.{why}")
        self.step, self.missing = step, missing


class UnitNotSo(TickRefused):
    """The unit is not in the state that the step requires, and going on could hurt somebody."""


class ReadingsMissing(TickRefused):
    """Readings that this outcome cannot do without; `labels` by reading key."""

    def __init__(self, labels: Mapping[str, str]) -> None:
        super().__init__("Enter " + " and ".join(f"“{label}”" for label in labels.values()) + ".")
        self.labels = dict(labels)
