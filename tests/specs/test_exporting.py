"""Values as a file: which of them, and cells that no spreadsheet runs. How they come in again is told by moving in."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.entering import ValueSource, change_value, withdraw_value
from specs.exporting import export_csv, exported_values
from specs.models import SuspensionModel
from specs.value_files import MOST_BYTES, MOST_ROWS, UnreadableFile, read_csv, safe_cell
from specs.value_rows import COLUMNS
from tests.factories import SpecValueFactory, SuspensionModelFactory, UserFactory

HEADER = "maker,model,value,unit\n"
GOOD = "Kestrigan,Plume,8,N·m\n"


@pytest.fixture
def plume() -> SuspensionModel:
    return SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021, travels_mm=[130, 140])


@pytest.mark.django_db
def test_only_current_values_of_the_wanted_model_are_exported(plume: SuspensionModel) -> None:
    old = SpecValueFactory(model=plume)
    change_value(seen=old, typed="130 psi", source=ValueSource("Letter"), entered_by=UserFactory())
    withdraw_value(seen=SpecValueFactory(model=plume, quantity="axle_torque"), why="Misread.", entered_by=UserFactory())
    SpecValueFactory()
    assert [value.typed for value in exported_values(plume)] == ["130 psi"]
    assert export_csv(exported_values(plume)).startswith(b"\xef\xbb\xbf" + ",".join(COLUMNS).encode())


@given(st.text(alphabet=string.printable + "＝＋－＠\u2003", max_size=30))
def test_a_guarded_cell_starts_no_formula(text: str) -> None:
    for before in ("", " ", "\n", "\r\n\t"):
        assert not safe_cell(before + text).lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))


def rows_of(content: bytes) -> list[dict[str, str]]:
    return [dict(row.cells) for row in read_csv(content, ("maker", "model", "value", "unit"), ("maker", "value"))]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n", "empty"),
        (HEADER.encode(), "no values"),
        (HEADER.encode() + "Kestrigan,Plüme".encode("latin-1"), "Line 2 is not UTF-8"),
        (HEADER.encode("utf-16"), "not UTF-8"),
        (b"a\x00b", "not a text file"),
        (b"model,unit\n", "no column maker, value"),
        (HEADER.replace("model", "colour").encode(), "not known here: colour"),
        (HEADER.replace("model", "unit").encode(), "repeats unit"),
        (HEADER.encode() + b'Kestrigan,"Plume\n', "quotation mark left open"),
        (HEADER.encode() + b"x" * MOST_BYTES, "larger than 512 KB"),
        (HEADER.encode() + GOOD.encode() * (MOST_ROWS + 1), "at most 2,000"),
    ],
)
def test_an_unreadable_file_says_what_to_do(content: bytes, reason: str) -> None:
    with pytest.raises(UnreadableFile, match=reason):
        rows_of(content)


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_semicolons_tabs_windows_line_ends_and_a_byte_order_mark_are_read(delimiter: str) -> None:
    text = (HEADER + GOOD).replace(",", delimiter).replace("\n", "\r\n")
    assert rows_of(text.encode("utf-8-sig")) == [{"maker": "Kestrigan", "model": "Plume", "value": "8", "unit": "N·m"}]


@given(st.binary(max_size=200))
def test_any_bytes_are_rows_or_refused_in_words(content: bytes) -> None:
    for start in (b"", HEADER.encode()):
        rows, refusal = list[dict[str, str]](), ""
        try:
            rows = rows_of(start + content)
        except UnreadableFile as error:
            refusal = str(error)
        assert rows or refusal
