"""What the air spring's readings change about the steps that try to free the port. Pure.

This is the one place where a finding of ``diagnosis.spring_answer`` enters the order of steps. What a step can do
comes from the physics; how far that is to be trusted is common practice, no published source:

- a step that the readings say will fail keeps ``TRUST_LOST`` of its chances, since a seal may stick less than
  usual, and costs only ``LOOK_MINUTES``: it is answered “can't tell” without trying;
- a step that the readings say will work ends the search with at least ``WORKS_CHANCE`` for its likeliest cause.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from diagnosis.declared import AT_MAXIMUM, BY_HAND
from diagnosis.spring_answer import Verdict

TRUST_LOST = 0.05
LOOK_MINUTES = 0.5
WORKS_CHANCE = 0.8


class Frees(Protocol):
    """A step as it says how it tries to free the port: a way of `diagnosis.declared.PORT_TRIES`, or "" for no try."""

    key: str
    frees_port: str


@dataclass(frozen=True)
class Prediction:
    """Whether the readings say that a step will work, and the sentence for the screen."""

    works: bool
    says: str

    def chances(self, ends_search: Mapping[str, float]) -> dict[str, float]:
        """The step's chances of ending the search, by cause, after the prediction."""
        if not self.works:
            return {cause: chance * TRUST_LOST for cause, chance in ends_search.items()}
        likeliest = max(ends_search, key=lambda cause: ends_search[cause], default="")
        return {
            cause: max(chance, WORKS_CHANCE) if cause == likeliest else chance for cause, chance in ends_search.items()
        }

    def minutes(self, minutes: float) -> float:
        """The minutes the step costs after the prediction."""
        return minutes if self.works else min(minutes, LOOK_MINUTES)


_BY_HAND_ALONE = Prediction(
    False,
    "The readings say it is too much to pull out by hand alone: "
    "answer “Can’t tell” and go on to the step at its maximum pressure.",
)

PREDICTIONS: Mapping[Verdict, Mapping[str, Prediction]] = {
    Verdict.STUCK_PULLS_FREE: {
        BY_HAND: Prediction(True, "The readings say one person can pull it free."),
    },
    Verdict.STUCK_PRESSURE_FREES: {
        BY_HAND: _BY_HAND_ALONE,
        AT_MAXIMUM: Prediction(True, "The readings say pressure within its maximum can free it."),
    },
    Verdict.STUCK_BOTH_FREE: {
        BY_HAND: _BY_HAND_ALONE,
        AT_MAXIMUM: Prediction(
            True, "The readings say one person’s pull and its maximum pressure together can free it."
        ),
    },
    Verdict.STUCK_LOWERS_OFF: {
        BY_HAND: _BY_HAND_ALONE,
        AT_MAXIMUM: Prediction(
            False,
            "The readings say that even at its maximum pressure it needs more pull than one person has. "
            "Answer “Can’t tell” if you go on without trying.",
        ),
    },
}


def predictions_for(verdict: Verdict | None, steps: Iterable[Frees]) -> dict[str, Prediction]:
    """What the readings say of those steps, by step key; nothing where they say nothing."""
    by_way = PREDICTIONS.get(verdict, {}) if verdict is not None else {}
    return {step.key: by_way[step.frees_port] for step in steps if step.frees_port in by_way}
