"""What a kind of sheet is: its columns, what a row of it would do, doing that, and taking it back."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from typing import Any

from workshop.sheets.columns import Column
from workshop.sheets.models import SheetRow
from workshop.sheets.table import Cell
from workshop.staff.models import Shop, User


class SheetKind(ABC):
    """What the rows of a sheet are, and what a row does.

    Attributes:
        shown: the columns by which a person knows a row.
        title: what is brought in, as a heading; `thing` is one of it.
        twice_is_doubtful: whether of two rows about the same neither is taken, for which is right cannot be told.
    """

    key: str
    title: str
    columns: Sequence[Column]
    shown: tuple[str, str]
    key_column: str
    thing: str
    twice_is_doubtful: bool = False
    rows_at_once: int = 0  # written in a step, where a row costs less than that of a part
    most_rows: int = 100_000
    most_bytes: int = 16 * 1024 * 1024

    def key_of(self, cells: Mapping[str, str]) -> str:
        """What a row is about, folded: once in a sheet. Empty where that is not known yet."""
        return cells.get(self.key_column, "").casefold()

    def known_by(self, cells: Mapping[str, str]) -> Sequence[str]:
        """What a person knows a row by, below the heads `shown`."""
        return [cells.get(name, "") for name in self.shown]

    def other_keys_of(self, cells: Mapping[str, str]) -> tuple[str, str]:
        """By what else a row may be known, folded. Where another row has it, a person is asked if it is another."""
        return "", ""

    def is_said_to_be_another(self, row: SheetRow, before: SheetRow) -> bool:
        """Whether the file itself says that a row is about another than the row before it, whatever they share."""
        return False

    def shared(self, row: SheetRow, before: SheetRow) -> str:
        """What a row has of a row before it, in words."""
        return self.thing

    def twice(self, line: int) -> str:
        """Why a row is refused that is about the same as that of a line before it."""
        return f"{self.key_column}: this {self.thing} is in the file twice, the first time in line {line}."

    def holds_number(self, column: Column, cells: Mapping[str, Cell]) -> bool:
        """Whether a cell of a row is a number, so that it is read by the decimal sign of the file."""
        return column.decimals is not None

    @abstractmethod
    def look(self, *, shop: Shop, rows: Sequence[SheetRow], by: User | None) -> int:
        """Say of rows, from the first on, what would become of them, and of how many that was said.

        Rows are given with their key in the sheet for the first time. What has to be tried is tried and rolled back, of
        `steps.ROWS_WRITTEN_AT_ONCE` rows at most.
        """

    def begin_step(self, *, shop: Shop, rows: Sequence[SheetRow]) -> Any:
        """What is asked once for rows that are written one after the other; None, where each asks for itself."""
        return None

    @abstractmethod
    def write(self, *, shop: Shop, row: SheetRow, by: User | None, with_counts: bool, asked: Any) -> None:
        """Do what was said of a row; fill its `after`. `asked` is what `begin_step` gave.

        Raises ValidationError where that is not so any more.
        """

    @abstractmethod
    def take_back(self, *, shop: Shop, row: SheetRow, by: User | None) -> str:
        """Put back what the row changed. Returns what stays and why; empty where nothing does."""
