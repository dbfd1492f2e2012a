"""What a reading of a step can be beside a magnitude: one of a few words, such as yes or no. Pure; no Django.

A reading's `quantity` in a checklist file is a dimension of `specs.units`, or one of WORD_KINDS. Whoever reads, shows,
prints or asks for a reading asks `options_of`: where it gives words, one of them is the reading, and there is no
magnitude and no unit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from specs.units import UnitError

MOST_CHOICES, LONGEST_CHOICE = 12, 60


@dataclass(frozen=True)
class WordKind:
    """A kind of reading that is one of a few words; without `options` each reading names its own choices."""

    label: str
    options: tuple[str, ...] = ()


WORD_KINDS: Mapping[str, WordKind] = {
    "yes_no": WordKind("yes or no", ("yes", "no")),
    "choice": WordKind("one of a list"),
}


def kind_words(quantity: str) -> str:
    """What a reading is, for people: a dimension by its name, or the label of its kind."""
    return WORD_KINDS[quantity].label if quantity in WORD_KINDS else quantity


def options_of(plan: Mapping[str, Any]) -> tuple[str, ...]:
    """The words a reading is one of, given its plan as stored; empty for a magnitude."""
    kind = WORD_KINDS.get(plan["quantity"])
    return () if kind is None else kind.options or tuple(plan.get("choices") or ())


def read_word(typed: str, options: tuple[str, ...]) -> str:
    """Which of the words was meant, however its letters were written. Raises UnitError for none of them."""
    meant = next((option for option in options if option.casefold() == typed.casefold()), None)
    if meant is None:
        raise UnitError(f"Choose {' or '.join((', '.join(options[:-1]), options[-1]))}.")
    return meant
