"""What a figure is made of: a headline, and sections of a drawing and a table whose counts open their tickets.

No Django: a figure is built from plain rows and shown by one template, or written by one CSV writer.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from specs.value_files import safe_cell
from workshop.plots.bars import Bars
from workshop.plots.columns import Columns
from workshop.plots.glance import Glance, glance
from workshop.plots.survival import SurvivalCurve
from workshop.web.number_words import figures, money_figures

Plot = Bars | Columns | SurvivalCurve
NOTHING_TO_SAY = "–"


class CellKind(StrEnum):
    """What a column holds, and so how it is written."""

    TEXT = "text"
    COUNT = "count"
    DAYS = "days"
    SHARE = "share"
    MINUTES = "minutes"
    HOURS = "hours"
    MONEY = "money"
    QUANTITY = "quantity"
    DAY = "day"


@dataclass(frozen=True)
class Tickets:
    """A count in a table, with the tickets that it counts, by primary key."""

    pks: tuple[int, ...]

    @classmethod
    def of(cls, pks: Iterable[int]) -> Tickets:
        return cls(tuple(dict.fromkeys(pks)))

    def __len__(self) -> int:
        return len(self.pks)


Value = str | int | float | Decimal | dt.date | Tickets | None


@dataclass(frozen=True)
class FigureColumn:
    """A column: its words, with the unit, and what it holds."""

    label: str
    kind: CellKind = CellKind.TEXT

    @property
    def is_number(self) -> bool:
        return self.kind not in (CellKind.TEXT, CellKind.DAY)


@dataclass(frozen=True)
class FigureRow:
    """A row; `key` names it in the address of its tickets. The first value is its heading."""

    key: str
    values: tuple[Value, ...]
    is_total: bool = False


@dataclass(frozen=True)
class Cell:
    """A value as it is shown, the column it is in, and whether it opens tickets."""

    words: str
    column: FigureColumn
    opens: bool
    place: int


@dataclass(frozen=True)
class Section:
    """A table, the drawing beside it, and what is to be said of both."""

    key: str
    title: str
    columns: tuple[FigureColumn, ...]
    rows: tuple[FigureRow, ...]
    plot: Plot | None = None
    says: tuple[str, ...] = ()
    nothing: str = "Nothing in these days."
    folds: bool = False  # a long table that is opened when wanted

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.values) != len(self.columns):
                raise ValueError(f"{self.key}, {row.key}: {len(row.values)} values in {len(self.columns)} columns")

    @property
    def small(self) -> Glance | None:
        """Its drawing made small, for a card and for a phone; None where there is nothing to draw."""
        return glance(self.plot) if self.plot is not None else None

    @property
    def shown_rows(self) -> list[tuple[FigureRow, list[Cell]]]:
        return [
            (
                row,
                [
                    Cell(shown(value, column.kind), column, isinstance(value, Tickets) and len(value) > 0, place)
                    for place, (column, value) in enumerate(zip(self.columns, row.values, strict=True))
                ],
            )
            for row in self.rows
        ]

    def tickets(self, row_key: str, place: int) -> Tickets | None:
        """The tickets behind one count, None where there is no such count."""
        for row in self.rows:
            if row.key == row_key and 0 <= place < len(row.values):
                value = row.values[place]
                return value if isinstance(value, Tickets) else None
        return None


@dataclass(frozen=True)
class Figure:
    """A page of the Office: what was asked, the answer in one line, sections, and how it was counted."""

    headline: str
    sections: tuple[Section, ...]
    how: tuple[str, ...] = ()

    @property
    def small(self) -> Glance | None:
        """Its first drawing made small; None where there is nothing to draw."""
        return next((section.small for section in self.sections if section.plot is not None), None)

    def section(self, key: str) -> Section | None:
        return next((section for section in self.sections if section.key == key), None)


def shown(value: Value, kind: CellKind) -> str:
    """A value as people read it."""
    if value is None or value == "":
        return NOTHING_TO_SAY
    if isinstance(value, Tickets):
        return f"{len(value):,}"
    if isinstance(value, dt.date):
        return f"{value:%-d %b %Y}"
    if isinstance(value, str):
        return value
    if kind is CellKind.SHARE:
        return f"{100 * float(value):.0f} %"
    if kind is CellKind.MONEY:
        return money_figures(value)
    if kind is CellKind.QUANTITY:
        return figures(Decimal(value), group=",")
    if kind is CellKind.COUNT:
        return f"{value:,}"
    if kind is CellKind.MINUTES:
        return f"{float(value):z,.0f}"
    return f"{float(value):z,.1f}"


def figure_csv(sections: Sequence[Section]) -> bytes:
    """The tables one below the other, as CSV that no spreadsheet runs as a formula.

    UTF-8 with a byte order mark, which spreadsheets need. Numbers are plain, shares are fractions.
    """
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    for number, section in enumerate(sections):
        if number:
            writer.writerow([])
        if len(sections) > 1:
            writer.writerow([safe_cell(section.title)])
        writer.writerow([safe_cell(column.label) for column in section.columns])
        for row in section.rows:
            writer.writerow([safe_cell(_plain(value)) if _is_words(value) else _plain(value) for value in row.values])
    return sheet.getvalue().encode("utf-8-sig")


def _is_words(value: Value) -> bool:
    return isinstance(value, str)


def _plain(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, Tickets):
        return str(len(value))
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return str(round(value, 4))
    return str(value)
