"""A workbook (.xlsx) read within limits: values that are kept, never a formula worked out. No Django."""

from __future__ import annotations

import datetime as dt
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator
from decimal import Decimal
from itertools import islice
from typing import Any
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.utils.exceptions import InvalidFileException

from specs.value_files import UnreadableFile
from workshop.sheets.columns import unmistakable
from workshop.sheets.table import MOST_COLUMNS, Cell, FileTable, TableRow, tidy, too_long, too_many_rows

MOST_ROWS = 20_000  # a workbook is read in one go: two seconds on a small machine
MOST_CELLS = 400_000
MOST_UNPACKED = 80 * 1024 * 1024
MOST_MEMBERS = 500
_NAMED = 5
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z]{1,3}[0-9]{1,7}:[A-Z]{1,3}[0-9]{1,7})"')
_ROW_END = re.compile(rb"</(?:\w+:)?row>")
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")
_BROKEN = (
    zipfile.BadZipFile, zlib.error, EOFError, KeyError, ValueError, TypeError, AttributeError, IndexError, ParseError,
    InvalidFileException, NotImplementedError, RuntimeError, OSError,
)  # fmt: skip


def read_book(content: bytes, most_rows: int) -> FileTable:
    """The first sheet of a workbook that holds anything. Raises UnreadableFile."""
    try:
        _check_size(content)
        return _read(content, min(most_rows, MOST_ROWS))
    except UnreadableFile:
        raise
    except _BROKEN:
        raise UnreadableFile(
            "This workbook cannot be read. Open it in the spreadsheet and save it anew as .xlsx, or as CSV."
        ) from None


def _check_size(content: bytes) -> None:
    """What it would be unpacked; a member never gives more than it says here."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = archive.infolist()
    if "xl/workbook.xml" not in {member.filename for member in members}:
        raise UnreadableFile("This is no .xlsx workbook. Save the sheet as .xlsx or as CSV.")
    unpacked = sum(member.file_size for member in members)
    if len(members) > MOST_MEMBERS or unpacked > MOST_UNPACKED:
        raise UnreadableFile(
            f"Unpacked, this workbook is larger than {MOST_UNPACKED // 1024**2} MB, so it is not opened. "
            "Save the one sheet as CSV."
        )


def _read(content: bytes, most_rows: int) -> FileTable:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and the like, which are not read
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        try:
            sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
            for sheet in sheets:
                rows = list(islice(_rows(sheet), most_rows + 2))
                if rows:
                    break
            else:
                raise UnreadableFile("The workbook has no rows in it.")
            raw = _xml_of(content, sheet)
            if len(rows) > most_rows + 1:
                raise _too_many(_filled_rows(raw) - 1, most_rows)
            formulas = _formulas(content, sheet.title, most_rows) if _FORMULA.search(raw) else {}
        finally:
            book.close()
    table = _table(rows, formulas)
    if len(sheets) > 1:
        table.notes.append(f"The workbook has {len(sheets)} sheets; “{sheet.title}” is the one that is read.")
    if formulas:
        table.notes.append(
            f"{len(formulas)} cells are formulas. What the spreadsheet worked out and kept is taken, as of when it was "
            "saved; nothing is worked out here."
        )
    if merged := [ref.decode() for ref in _MERGED.findall(raw)]:
        more = f" and {len(merged) - _NAMED} more" if len(merged) > _NAMED else ""
        table.notes.append(
            f"Cells are merged ({', '.join(merged[:_NAMED])}{more}). Of each, the first cell has the value and the "
            "others count as empty. Part them in the spreadsheet, if the others should have it too."
        )
    return table


def _too_many(found: int, most_rows: int) -> UnreadableFile:
    if most_rows < MOST_ROWS:
        return too_many_rows(most_rows, found)
    return UnreadableFile(
        f"The workbook has {found:,} rows; of a workbook at most {MOST_ROWS:,} are read at once. None of it was read: "
        "save the sheet as CSV, of which more are read, or split it into smaller ones, each with the line of heads."
    )


def _filled_rows(raw: bytes) -> int:
    """How many rows of a sheet hold anything, without opening each: rows that only have a look hold nothing."""
    return sum(b"<v>" in row or b"<is>" in row or b":v>" in row for row in _ROW_END.split(raw))


def _xml_of(content: bytes, sheet: Any) -> bytes:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return archive.read(sheet._worksheet_path)


def _rows(sheet: Any) -> Iterator[tuple[int, list[Any]]]:
    """Rows that hold anything, with their number and without what is empty at their end."""
    sheet.reset_dimensions()  # a workbook may say that it has a million rows; what is there counts
    seen = 0
    for place, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        seen += max(len(row), 1)
        values = list(row)
        while values and (values[-1] is None or values[-1] == ""):
            values.pop()
        if len(values) > MOST_COLUMNS:
            raise UnreadableFile(f"Row {place} has {len(values)} columns; at most {MOST_COLUMNS} are read.")
        if seen > 3 * MOST_CELLS:
            raise UnreadableFile("The workbook has too many cells. Save the one sheet as CSV.")
        if any(value is not None and str(value).strip() for value in values):
            yield place, values


def _formulas(content: bytes, title: str, most_rows: int) -> dict[tuple[int, int], str]:
    """Where formulas stand, by row and column from 1."""
    book = load_workbook(io.BytesIO(content), read_only=True, data_only=False)
    found: dict[tuple[int, int], str] = {}
    try:
        sheet = book[title]
        sheet.reset_dimensions()
        for place, row in enumerate(sheet.iter_rows(), start=1):
            for number, cell in enumerate(row, start=1):
                if getattr(cell, "data_type", "") == "f":
                    found[place, number] = str(cell.value)[:40]
            if len(found) > MOST_CELLS:
                break
    finally:
        book.close()
    return found


def _table(rows: list[tuple[int, list[Any]]], formulas: dict[tuple[int, int], str]) -> FileTable:
    (_, first), rest = rows[0], rows[1:]
    table = FileTable(["" if cell is None else tidy(_words(cell)) for cell in first])
    for place, values in rest:
        cells = [_cell(value) for value in values]
        without = [
            f"{get_column_letter(column)}{place}"
            for column in range(1, len(table.heads) + 1)
            if (place, column) in formulas and (column > len(values) or values[column - 1] is None)
        ]
        table.rows.append(TableRow(place, cells, _fault(place, values, without)))
    return table


def _fault(place: int, values: list[Any], without: list[str]) -> str:
    if without:
        return (
            f"{', '.join(without[:_NAMED])}: a formula without a kept value. Open the file in the spreadsheet and save "
            "it, or paste the values over the formulas."
        )
    for column, value in enumerate(values, start=1):
        if isinstance(value, str) and value.startswith("#") and value in _ERRORS:
            return f"{get_column_letter(column)}{place}: the spreadsheet shows {value} there."
    return too_long([str(value) for value in values if isinstance(value, str)])


_ERRORS = {"#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!"}


def _cell(value: Any) -> Cell:
    """Words as they stand; a number as a list of its plain figures."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return [_words(value)]
    return "" if value is None else tidy(_words(value))


def _words(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else format(Decimal(repr(value)), "f")
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ", timespec="minutes")
    return str(value)


def number_words(cell: Cell, *, decimals: int | None) -> str:
    """A cell as text: a number of a workbook so that no field reads it in another way."""
    if isinstance(cell, str):
        return cell
    return unmistakable(cell[0]) if decimals is not None else cell[0]
