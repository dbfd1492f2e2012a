"""What stands in a file of rows, whatever kind of file it was. No Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from specs.value_files import UnreadableFile

MOST_COLUMNS = 60
LONGEST_CELL = 4000

# A cell of a workbook that holds a number, which can be read one way only, is a list of it: ["1.125"].
Cell = str | list[str]


@dataclass(frozen=True)
class TableRow:
    """A row with its line in the file, and why it as a whole cannot be taken; empty where it can."""

    place: int
    cells: list[Cell]
    fault: str = ""


@dataclass
class FileTable:
    """What stands in a file: its heads, its rows without blank ones, and what a person has to know of its reading."""

    heads: list[str]
    rows: list[TableRow] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def too_many_rows(most: int, found: int) -> UnreadableFile:
    return UnreadableFile(
        f"The file has {found:,} rows; at most {most:,} at once. None of it was read: split it into smaller files, "
        "each with the line of heads."
    )


def tidy(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def too_long(cells: Sequence[str]) -> str:
    longest = max(map(len, cells), default=0)
    return f"A cell has {longest:,} characters; at most {LONGEST_CELL:,} are read." if longest > LONGEST_CELL else ""
