"""What a sum answers: words first, then numbers, then where they come from and what was assumed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

Writer = Callable[[float, str], str]
"""Writes an SI magnitude of a dimension in the shop's unit, such as (0.004, "length") -> "4 mm"."""

NO_SOURCE = "common practice, no published source"


@dataclass(frozen=True)
class Row:
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


@dataclass(frozen=True)
class Answer:
    """`words` come first, the headline at their head. `warnings` say where an equation or a value is doubtful."""

    words: tuple[str, ...]
    rows: tuple[Row, ...] = ()
    tables: tuple[Table, ...] = ()
    warnings: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


def significant(value: float, digits: int = 5) -> str:
    """A number to so many significant digits, thousands parted, without trailing noughts."""
    if value == 0:
        return "0"
    if abs(value) < 1e-6:
        return f"{value:.{digits}g}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(share: float) -> str:
    """A share as per cent with its sign, for differences: "+3.2 %"."""
    text = f"{share * 100:+.1f}"
    return f"{'0' if float(text) == 0 else text} %".replace("-", "−")
