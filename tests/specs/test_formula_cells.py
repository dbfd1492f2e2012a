"""Cells that no spreadsheet runs as a formula, and that read back as they were. No database."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.value_files import safe_cell, unguarded

# In a shop's language a spreadsheet may part a comma's file at each semicolon, and takes a line end inside quotation
# marks that begin later for the end of a row: what stands behind one is a cell of its own there.
_PARTED = re.compile(r"[;\t\r\n]")


@pytest.mark.parametrize(
    "formula", ["x;=1+1", 'x; "=1', "x;\t@SUM(A1)", "x\n-1", ";=1", "x;'=1", "x;＝1", "\t=1", "\t1"]
)
def test_a_formula_behind_a_separator_is_guarded_and_reads_back(formula: str) -> None:
    guarded = safe_cell(formula)
    assert not any(cell.lstrip(' "').startswith(("=", "+", "-", "@", "＝")) for cell in _PARTED.split(guarded))
    assert unguarded(guarded) == formula


def test_words_with_a_semicolon_or_a_hyphen_within_stay_as_they_are() -> None:
    for words in ("wiper; foam ring", "half-open", "a=b", "post@example.org", "35 mm;", "x ' -", "12.5"):
        assert safe_cell(words) == words


@given(st.text(alphabet=";\t\r\n '\"=+-@＝x", max_size=30))
def test_a_guarded_cell_reads_back_as_it_was(text: str) -> None:
    assert unguarded(safe_cell(text)) == text
