"""CSV in a layout of our own, read into rows of text, and cells that no spreadsheet runs. Only the layout is judged.

CSV: UTF-8, one header line; comma, semicolon or tab.
What a spreadsheet would run as a formula carries an apostrophe in front, which is taken off here.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

MOST_BYTES = 512 * 1024
MOST_ROWS = 2000
_LONGEST_LIST = 400  # signs of a stranger's names that are repeated

# What a spreadsheet takes for the start of a formula, also after blanks and line ends; some languages' count the wide
# signs too. In some languages it parts a file at semicolons, commas or not, and takes no notice of quotation marks
# within what lies between two: there a cell begins behind each semicolon, tab and line end.
_FORMULA = "[=+\\-@＝＋－＠]"
_CELL_STARTS = rf"\A(?='*[\t\r]|[\s']*{_FORMULA})|(?<=[;\t\r\n])(?=[\s\"']*{_FORMULA})"
_TO_GUARD = re.compile(_CELL_STARTS)
_GUARDED = re.compile(_CELL_STARTS.replace("(?=", "'(?="))


class UnreadableFile(ValueError):
    """The file as a whole cannot be read; the message says what to do, with the line where there is one."""


@dataclass(frozen=True)
class FileRow:
    """A row of the file: its line, and its cells by column."""

    place: int
    cells: Mapping[str, str]
    fault: str = ""


def read_csv(content: bytes, columns: Collection[str], required: Collection[str]) -> list[FileRow]:
    """Rows of a CSV file with columns of its own, in its order; blank lines are left out.

    Raises:
        UnreadableFile: too large, not UTF-8, no text, wrong columns, no rows, too many rows.
    """
    if len(content) > MOST_BYTES:
        raise UnreadableFile(f"The file is larger than {MOST_BYTES // 1024:,} KB. Split it into smaller ones.")
    text = _decoded(content)
    if not text.strip():
        raise UnreadableFile("The file is empty.")
    rows = _csv_rows(text, columns, required)
    if not rows:
        raise UnreadableFile("The file has no values in it.")
    if len(rows) > MOST_ROWS:
        raise UnreadableFile(f"The file has {len(rows):,} values; at most {MOST_ROWS:,} at once.")
    return rows


def safe_cell(text: str) -> str:
    """A cell that no spreadsheet runs as a formula; reading takes the apostrophe off again."""
    return _TO_GUARD.sub("'", text)


def unguarded(text: str) -> str:
    """A cell as it was before `safe_cell`."""
    return _GUARDED.sub("", text)


def _cell(text: str) -> str:
    return unguarded(text).strip()


def _decoded(content: bytes) -> str:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise UnreadableFile(f"Line {line} is not UTF-8 text. Save the sheet as “CSV UTF-8” and try again.") from error
    if "\x00" in text:
        raise UnreadableFile("This is not a text file. Save the sheet as “CSV UTF-8” and try again.")
    return text


def _csv_rows(text: str, known: Collection[str], required: Collection[str]) -> list[FileRow]:
    first_line = text.lstrip("\r\n").splitlines()[0]
    delimiter = max(",;\t", key=first_line.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    columns: list[str] = []
    rows: list[FileRow] = []
    started_after = 0
    try:
        for cells in reader:
            place, started_after = started_after + 1, reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if not columns:
                columns = [cell.strip().lower() for cell in cells]
                _check_columns(columns, place, known, required)
            else:
                rows.append(_csv_row(place, columns, cells))
    except csv.Error as error:
        raise UnreadableFile(
            f"Line {reader.line_num} cannot be read as CSV; is a quotation mark left open? ({error})"
        ) from error
    return rows


def _csv_row(place: int, columns: list[str], cells: list[str]) -> FileRow:
    fault = ""
    if len(cells) > len(columns) and any(cell.strip() for cell in cells[len(columns) :]):
        fault = f"{len(cells)} cells in {len(columns)} columns; put text with a comma in quotation marks."
    return FileRow(place, {column: _cell(cell) for column, cell in zip(columns, cells, strict=False)}, fault)


def _check_columns(columns: Iterable[str], line: int, known: Collection[str], required: Collection[str]) -> None:
    columns = list(columns)
    missing = [column for column in required if column not in columns]
    unknown = [column or "(no name)" for column in columns if column not in known]
    twice = sorted({column for column in columns if columns.count(column) > 1})
    faults = [
        f"{words} {', '.join(wrong)[:_LONGEST_LIST]}"
        for words, wrong in (("has no column", missing), ("has a column not known here:", unknown), ("repeats", twice))
        if wrong
    ]
    if faults:
        raise UnreadableFile(f"Line {line}, the header, {'; '.join(faults)}.")
