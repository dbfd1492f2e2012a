"""Our own layout for spec values in a file, CSV or JSON, read into rows of text. Nothing is judged here but the layout.

CSV: UTF-8, one header line, one value a line; comma, semicolon or tab.
JSON: `{"layout": "spec-values-1", "values": [...]}` with the columns as keys.
A cell that a spreadsheet would run as a formula carries a leading apostrophe, which is taken off here.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

MOST_BYTES = 512 * 1024
MOST_ROWS = 2000
JSON_LAYOUT = "spec-values-1"
_MOST_FAULTS = 20  # of one entry, told at once
_LONGEST_LIST = 400  # signs of a stranger's names that are repeated

REQUIRED_COLUMNS = ("maker", "model", "year_from", "quantity", "value", "source_document")
COLUMNS = (
    "maker", "model", "year_from", "quantity", "travel_mm", "value", "unit", "tolerance",
    "source_document", "source_revision", "source_page",
)  # fmt: skip
# In words, for whoever fills the sheet in; nothing reads it.
IN_WORDS = "quantity_in_words"

# What a spreadsheet takes for the start of a formula, also after blanks and line ends; some languages' count the wide
# signs too.
_FORMULA_STARTS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")


class UnreadableFile(ValueError):
    """The file as a whole cannot be read; the message says what to do, with the line where there is one."""


@dataclass(frozen=True)
class FileRow:
    """A row of the file: its line (CSV) or its place in the list (JSON), and its cells by column."""

    place: int
    cells: Mapping[str, str]
    fault: str = ""
    is_entry: bool = False

    @property
    def where(self) -> str:
        """Where it is, as an editor counts."""
        return f"entry {self.place}" if self.is_entry else f"line {self.place}"


def read_rows(content: bytes) -> list[FileRow]:
    """Rows of a CSV or JSON file, in the file's order; blank lines of a CSV are left out.

    Raises:
        UnreadableFile: too large, not UTF-8, no text, wrong columns, no rows, too many rows, not our JSON layout.
    """
    if len(content) > MOST_BYTES:
        raise UnreadableFile(f"The file is larger than {MOST_BYTES // 1024} KB. Split it into smaller ones.")
    text = _decoded(content)
    if not text.strip():
        raise UnreadableFile("The file is empty.")
    is_json = text.lstrip()[0] in "{["
    return _some(_json_rows(text) if is_json else _csv_rows(text, (*COLUMNS, IN_WORDS), REQUIRED_COLUMNS))


def read_csv(
    content: bytes,
    columns: Collection[str],
    required: Collection[str],
    *,
    most_bytes: int = MOST_BYTES,
    most_rows: int = MOST_ROWS,
    things: str = "values",
) -> list[FileRow]:
    """Rows of a CSV file with columns of its own. Raises UnreadableFile as `read_rows`."""
    if len(content) > most_bytes:
        raise UnreadableFile(f"The file is larger than {most_bytes // 1024:,} KB. Split it into smaller ones.")
    text = _decoded(content)
    if not text.strip():
        raise UnreadableFile("The file is empty.")
    return _some(_csv_rows(text, columns, required), things, most_rows)


def _some(rows: list[FileRow], things: str = "values", most: int = MOST_ROWS) -> list[FileRow]:
    if not rows:
        raise UnreadableFile(f"The file has no {things} in it.")
    if len(rows) > most:
        raise UnreadableFile(f"The file has {len(rows):,} {things}; at most {most:,} at once.")
    return rows


def safe_cell(text: str) -> str:
    """A cell that no spreadsheet runs as a formula; reading takes the apostrophe off again."""
    return f"'{text}" if _starts_a_formula(text) or _is_guarded(text) else text


def _starts_a_formula(text: str) -> bool:
    return text[:1] in {"\t", "\r"} or text.lstrip().startswith(_FORMULA_STARTS)


def _is_guarded(text: str) -> bool:
    return text.startswith("'") and _starts_a_formula(text.lstrip("'"))


def unguarded(text: str) -> str:
    """A cell as it was before `safe_cell`."""
    return text[1:] if _is_guarded(text) else text


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


def _json_rows(text: str) -> list[FileRow]:
    try:
        content = json.loads(
            text, parse_int=str, parse_float=str, parse_constant=str, object_pairs_hook=_object_without_repeats
        )
    except json.JSONDecodeError as error:
        raise UnreadableFile(f"Line {error.lineno}, column {error.colno}: this is not JSON ({error.msg}).") from error
    except RecursionError as error:
        raise UnreadableFile("The JSON is nested too deep.") from error
    if (
        not isinstance(content, dict)
        or content.get("layout") != JSON_LAYOUT
        or not isinstance(content.get("values"), list)
    ):
        raise UnreadableFile(f'The file has to be {{"layout": "{JSON_LAYOUT}", "values": [...]}}.')
    return [_json_row(place, entry) for place, entry in enumerate(content["values"], start=1)]


def _object_without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise UnreadableFile(f"A key is repeated in {json.dumps(found, default=str)[:80]}.")
    return found


def _json_row(place: int, entry: object) -> FileRow:
    if not isinstance(entry, dict):
        return FileRow(place, {}, "This is no object with the layout's keys.", is_entry=True)
    faults = [
        f"“{key}” has to be text or a number."
        if key in COLUMNS
        else f"“{key[:_LONGEST_LIST]}” is no key of the layout."
        for key, cell in entry.items()
        if key not in COLUMNS or not (cell is None or isinstance(cell, str))
    ]
    if faults:
        return FileRow(place, {}, " ".join(faults[:_MOST_FAULTS]), is_entry=True)
    return FileRow(place, {key: (cell or "").strip() for key, cell in entry.items()}, is_entry=True)
