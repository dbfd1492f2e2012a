"""Cautions graded by signal words, as ISO 3864-2 and ANSI Z535.6 grade them. Pure.

Danger: it kills or maims whoever does not heed it. Warning: it can. Caution: it hurts a little. Notice: it does harm to
things. The grades of our own cautions are common practice, no published source; one that has none counts as a warning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from diagnosis.layout_facts import Facts, fits

DANGER, WARNING, CAUTION, NOTICE = "danger", "warning", "caution", "notice"
LEVELS: Mapping[str, str] = {DANGER: "Danger", WARNING: "Warning", CAUTION: "Caution", NOTICE: "Notice"}
"""The signal words, gravest first."""

_RANK = {level: place for place, level in enumerate(LEVELS)}
_NEVER_FOLDED = frozenset({DANGER, WARNING})


@dataclass(frozen=True)
class GradedCaution:
    """One caution as it is shown: its level, signal word, title and text."""

    key: str
    level: str
    title: str
    text: str

    @property
    def word(self) -> str:
        return LEVELS[self.level]

    @property
    def alerts(self) -> bool:
        """Whether the safety alert symbol stands before the word: not where only things come to harm."""
        return self.level != NOTICE


def graded(cautions: Iterable[Mapping[str, Any]], facts: Facts) -> list[GradedCaution]:
    """Those of a step's cautions that concern a unit with these facts, or may, the gravest first."""
    found = [
        GradedCaution(one["key"], _level(one), one["title"], one["text"])
        for one in cautions
        if fits(one.get("only_if") or {}, facts) != "no"
    ]
    return sorted(found, key=lambda one: _RANK[one.level])


def _level(caution: Mapping[str, Any]) -> str:
    level = caution.get("level") or WARNING
    return level if level in LEVELS else WARNING


@dataclass(frozen=True)
class CautionsShown:
    """The cautions of a step on the bench.

    `first` stand in full before what to do, `in_full` below it. `in_a_line` were in full before in this job and hurt
    little: their names are enough.
    """

    first: Sequence[GradedCaution]
    in_full: Sequence[GradedCaution]
    in_a_line: Sequence[GradedCaution] = ()

    @property
    def named(self) -> list[GradedCaution]:
        """Those that are only named before what to do."""
        return [*self.in_full, *self.in_a_line]


def cautions_shown(cautions: Iterable[Mapping[str, Any]], facts: Facts, *, met: frozenset[str]) -> CautionsShown:
    """What a step shows; `met` are the keys of those that an answered step of the job has shown in full."""
    every = graded(cautions, facts)
    rest = [one for one in every if one.level != DANGER]
    folded = [one for one in rest if one.key in met and one.level not in _NEVER_FOLDED]
    return CautionsShown(
        first=[one for one in every if one.level == DANGER],
        in_full=[one for one in rest if one not in folded],
        in_a_line=folded,
    )
