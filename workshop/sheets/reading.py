"""A file of rows, CSV or a workbook, read into heads and cells of text. Nothing is judged here but the file. No Django.

CSV in UTF-8 with or without a byte order mark, UTF-16 or Windows-1252; comma, semicolon or tab.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Sequence

from specs.value_files import UnreadableFile, unguarded
from workshop.sheets.table import MOST_COLUMNS, FileTable, TableRow, tidy, too_long, too_many_rows

_BOMS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
_SEPARATOR = re.compile(r"sep=([,;\t|])\r?\n", re.IGNORECASE)
_OLD_BOOK = b"\xd0\xcf\x11\xe0"


def read_table(content: bytes, *, most_bytes: int, most_rows: int) -> FileTable:
    """The table in a file.

    Raises:
        UnreadableFile: too large, empty, neither text nor a workbook, no rows, too many rows or columns.
    """
    from workshop.sheets.books import read_book

    if len(content) > most_bytes:
        raise too_large([content], most_bytes=most_bytes, most_rows=most_rows)
    if not content.strip(b"\x00 \r\n\t"):
        raise UnreadableFile("The file is empty.")
    if content.startswith(_OLD_BOOK):
        raise UnreadableFile(
            "This is a workbook in an old format, or one with a password. Save it without one as .xlsx or as CSV."
        )
    table = read_book(content, most_rows) if content.startswith(b"PK") else _read_csv(content, most_rows)
    table.heads = _heads(table)
    if not table.rows:
        raise UnreadableFile("The file has no rows in it.")
    return table


def too_large(pieces: Iterable[bytes], *, most_bytes: int, most_rows: int) -> UnreadableFile:
    """That a file, given in pieces, is too large, with what is in it and what to do."""
    size = lines = 0
    is_book = False
    for n, piece in enumerate(pieces):
        is_book = is_book or (n == 0 and piece.startswith((b"PK", _OLD_BOOK)))
        size, lines = size + len(piece), lines + piece.count(b"\n")
    has = f"{size / 1024**2:.1f} MB" + ("" if is_book else f" and {lines:,} lines")
    return UnreadableFile(
        f"The file has {has}; at most {most_bytes / 1024**2:g} MB and {most_rows:,} rows are read at once. None of it "
        "was read: split it into smaller files, each with the line of heads."
    )


def _heads(table: FileTable) -> list[str]:
    """The heads as wide as the rows are; a column that nobody named and that has nothing in it is left out."""
    widest = max([len(table.heads), *(len(row.cells) for row in table.rows)])
    heads = table.heads + [""] * (widest - len(table.heads))
    while heads and not heads[-1].strip() and not any(row.cells[len(heads) - 1 :] for row in table.rows):
        heads.pop()
    if len(heads) > MOST_COLUMNS:
        raise UnreadableFile(f"The file has {len(heads)} columns; at most {MOST_COLUMNS} are read.")
    return [" ".join(head.split())[:80] for head in heads]


def _read_csv(content: bytes, most_rows: int) -> FileTable:
    text, notes = _decoded(content)
    named = _SEPARATOR.match(text)
    delimiter = named[1] if named else _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    table, started_after = FileTable([], notes=notes), 0
    has_heads = False
    try:
        for cells in reader:
            place, started_after = started_after + 1, reader.line_num
            if (named and place == 1) or not any(cell.strip() for cell in cells):
                continue
            if not has_heads:
                table.heads, has_heads = [cell.strip() for cell in cells], True
            else:
                table.rows.append(_csv_row(place, cells, len(table.heads)))
    except csv.Error as error:
        raise UnreadableFile(
            f"Line {reader.line_num} cannot be read as CSV; is a quotation mark left open? ({error})"
        ) from error
    if len(table.rows) > most_rows:
        raise too_many_rows(most_rows, len(table.rows))
    return table


def _csv_row(place: int, cells: Sequence[str], heads: int) -> TableRow:
    fault = ""
    if len(cells) > heads and any(cell.strip() for cell in cells[heads:]):
        fault = f"{len(cells)} cells in {heads} columns; put text with a comma in quotation marks."
    return TableRow(place, [tidy(unguarded(cell)) for cell in cells[:heads]], fault or too_long(cells))


def _delimiter(text: str) -> str:
    """What most divides the first line, outside quotation marks."""
    first_line = text.lstrip("\r\n").splitlines()[0] if text.strip() else ""
    bare = re.sub(r'"[^"]*"', "", first_line)
    return max(",;\t|", key=bare.count)


def _decoded(content: bytes) -> tuple[str, list[str]]:
    encoding, said = _encoding(content)
    try:
        text = content.decode(encoding).removeprefix("\ufeff")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise UnreadableFile(
            f"Line {line} is text in no encoding that is known here. Save the sheet as “CSV UTF-8” and try again."
        ) from error
    if "\x00" in text:
        raise UnreadableFile("This is neither a text file nor a workbook. Save the sheet as CSV or .xlsx.")
    if not text.strip():
        raise UnreadableFile("The file is empty.")
    return text, [said] if said else []


def _encoding(content: bytes) -> tuple[str, str]:
    """The encoding, and what is to be said of it where it is a guess."""
    for mark, encoding in _BOMS:
        if content.startswith(mark):
            return encoding, ""
    start = content[:4000]
    if start[1::2].count(0) > len(start) // 3:  # plain letters in UTF-16: each second byte is nothing
        return "utf-16-le", "Read as UTF-16."
    if start[0::2].count(0) > len(start) // 3:
        return "utf-16-be", "Read as UTF-16."
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", "Read as Windows-1252, for it is not UTF-8. Look whether names with accents are right below."
    return "utf-8", ""
