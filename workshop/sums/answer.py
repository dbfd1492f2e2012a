"""What a sum answers: words first, then numbers, then where they come from and what was assumed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from specs.physics.errors import ImpossibleValue

Writer = Callable[[float, str], str]
"""Writes an SI magnitude of a dimension in the shop's unit, such as (0.004, "length") -> "4 mm"."""

NBSP = "\N{NO-BREAK SPACE}"
NO_SOURCE = "common practice, no published source"


class Missing(ImpossibleValue):
    """Something the sum cannot do without. While a form is being filled in that is no mistake yet."""


@dataclass(frozen=True)
class AnswerRow:
    """One computed number, already written in the shop's units."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class Table:
    """Several things compared; the first column names each."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def labelled(self) -> list[list[tuple[str, str]]]:
        """Each row as pairs of column and cell."""
        return [list(zip(self.columns, cells, strict=True)) for cells in self.rows]


@dataclass(frozen=True)
class Answer:
    """`words` come first, the headline at their head. `warnings` say where an equation or a value is doubtful.

    `from_memory` is what no source was seen for; it is never among the `sources`.
    """

    words: tuple[str, ...]
    rows: tuple[AnswerRow, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    from_memory: tuple[str, ...] = ()


def significant(value: float, digits: int = 5) -> str:
    """A number to so many significant digits, thousands parted, without trailing noughts."""
    if value == 0:
        return "0"
    if abs(value) < 1e-6:
        return f"{value:.{digits}g}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:z,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float) -> str:
    """A share as per cent with its sign, for differences: "+3.2 %"."""
    text = f"{share * 100:+z.1f}"
    return f"{'0' if float(text) == 0 else text}{NBSP}%".replace("-", "−")


def share_text(share: float, decimals: int = 0) -> str:
    """A share as per cent: "20 %"."""
    return f"{share * 100:z.{decimals}f}{NBSP}%".replace("-", "−")
