"""Rows written as CSV that no spreadsheet runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence


def as_csv(rows: Iterable[Sequence[str]]) -> bytes:
    """UTF-8 with a byte order mark, which spreadsheets need. Cells of words are made safe by whoever gives them."""
    return b"\xef\xbb\xbf" + csv_lines(rows)


def csv_lines(rows: Iterable[Sequence[str]]) -> bytes:
    sheet = io.StringIO(newline="")
    csv.writer(sheet).writerows(rows)
    return sheet.getvalue().encode("utf-8")
