"""A table in pieces that go from one process to another one by one. No Django.

Unpickled whole, a long table would hold up every other request of the process for a second.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from dataclasses import dataclass, field

from workshop.sheets.reading import read_table
from workshop.sheets.table import FileTable, TableRow

_ROWS_IN_A_PIECE = 500


@dataclass(frozen=True)
class TableInPieces:
    """Heads and notes of a table, and its rows packed a few hundred at a time."""

    heads: list[str]
    notes: list[str] = field(default_factory=list)
    rows_in_all: int = 0
    packed: list[bytes] = field(default_factory=list)

    def rows(self) -> Iterator[TableRow]:
        for piece in self.packed:
            yield from pickle.loads(piece)  # noqa: S301  packed below


def read_in_pieces(content: bytes, *, most_bytes: int, most_rows: int) -> TableInPieces:
    """The table in a file. Raises UnreadableFile."""
    return in_pieces(read_table(content, most_bytes=most_bytes, most_rows=most_rows))


def in_pieces(table: FileTable) -> TableInPieces:
    starts = range(0, len(table.rows), _ROWS_IN_A_PIECE)
    packed = [pickle.dumps(table.rows[start : start + _ROWS_IN_A_PIECE]) for start in starts]
    return TableInPieces(table.heads, table.notes, len(table.rows), packed)
