"""Files as they come: encodings, separators, workbooks; what cannot be read says what to do."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

import pytest
from openpyxl import Workbook

from specs.value_files import UnreadableFile
from workshop.sheets import books
from workshop.sheets.columns import Column, decimal_signs, guess, with_sign
from workshop.sheets.reading import read_table
from workshop.sheets.table import FileTable

TEXT = "Name;Größe\nIlva;12,5\nTorben;3\n"


def table(content: bytes) -> FileTable:
    return read_table(content, most_bytes=1_000_000, most_rows=100)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings_are_told_apart(encoding: str) -> None:
    read = table(TEXT.encode(encoding))
    assert read.heads == ["Name", "Größe"]
    assert [(row.place, row.cells) for row in read.rows] == [(2, ["Ilva", "12,5"]), (3, ["Torben", "3"])]
    assert bool(read.notes) == (encoding in {"cp1252", "utf-16-le", "utf-16-be"})


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_separators_are_told_apart(sign: str) -> None:
    read = table(f'"a,b;c"{sign}B\n"1;2,3"{sign}x\n\n{sign}\n'.encode())
    assert (read.heads, [row.cells for row in read.rows]) == (["a,b;c", "B"], [["1;2,3", "x"]])


def test_a_line_that_names_the_separator_is_no_head() -> None:
    assert table(b"sep=;\nName;Phone\nIlva;1\n").heads == ["Name", "Phone"]


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf\n\n", "empty"),
        (b"Name\n", "no rows"),
        (b'Name\n"open\n', "quotation mark left open"),
        (b"Name\n\x81\xff\n", "Line 2 is text in no encoding"),
        (b"Name\n" + b"x\n" * 101, "101 rows; at most 100"),
        (b";".join(b"c" for _ in range(61)) + b"\nx\n", "61 columns; at most 60"),
        (b"\xd0\xcf\x11\xe0rest", "old format, or one with a password"),
        (b"PK\x03\x04broken", "cannot be read"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(content: bytes, reason: str) -> None:
    with pytest.raises(UnreadableFile, match=reason):
        table(content)


def test_a_guard_against_formulas_is_taken_off() -> None:
    assert table(b"Name,Phone\n'=1+1,'+49 555\n").rows[0].cells == ["=1+1", "+49 555"]


def book(*rows: Sequence[object], merged: str = "", more: int = 0) -> bytes:
    made = Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(list(row))
    if merged:
        sheet.merge_cells(merged)
    for n in range(more):
        made.create_sheet(f"More {n}")
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def changed(content: bytes, member: str, old: bytes, new: bytes) -> bytes:
    """A workbook with other bytes in one of its members."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as archive, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as other:
        for name in archive.namelist():
            data = archive.read(name)
            if name == member:
                assert old in data
                data = data.replace(old, new)
            other.writestr(name, data)
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


def test_a_workbook_is_read_with_its_numbers_plain() -> None:
    read = table(
        book(["Name", "Weight"], ["Ilva", 1.125], [None, None], ["Torben", 12.0], ["Runa", "1,5"], ["Ada", True])
    )
    assert read.heads == ["Name", "Weight"]
    assert [(row.place, row.cells) for row in read.rows] == [
        (2, ["Ilva", ["1.125"]]), (4, ["Torben", ["12"]]), (5, ["Runa", "1,5"]), (6, ["Ada", "yes"]),
    ]  # fmt: skip
    assert books.number_words(["1.125"], decimals=2) == "1.1250"
    assert books.number_words(["1.125"], decimals=None) == "1.125"


def test_a_formula_without_a_kept_value_is_refused_in_words() -> None:
    read = table(book(["Name", "Weight"], ["Ilva", "=70+4"], ["Torben", 80]))
    assert "B2: a formula without a kept value" in read.rows[0].fault
    assert not read.rows[1].fault
    assert any("are formulas" in note for note in read.notes)


def test_the_kept_value_of_a_formula_is_taken_and_said() -> None:
    content = changed(book(["Name", "Weight"], ["Ilva", "=70+4"]), SHEET, b"<v></v>", b"<v>74</v>") \
        if b"<v></v>" in zipfile.ZipFile(io.BytesIO(book(["N"], ["=1"]))).read(SHEET) \
        else changed(book(["Name", "Weight"], ["Ilva", "=70+4"]), SHEET, b"<v />", b"<v>74</v>")  # fmt: skip
    read = table(content)
    assert (read.rows[0].cells, read.rows[0].fault) == (["Ilva", ["74"]], "")
    assert any("are formulas" in note for note in read.notes)


def test_merged_cells_and_further_sheets_are_said() -> None:
    read = table(book(["Name", "Phone"], ["Ilva", "1"], ["Torben", "2"], merged="B2:B3", more=2))
    assert any("merged (B2:B3)" in note for note in read.notes)
    assert any("3 sheets; “Sheet”" in note for note in read.notes)
    assert read.rows[1].cells == ["Torben"]


def test_an_error_of_the_spreadsheet_is_refused() -> None:
    assert "B2: the spreadsheet shows #REF! there" in table(book(["Name", "Weight"], ["Ilva", "#REF!"])).rows[0].fault


def test_a_workbook_that_unpacks_to_too_much_is_not_opened() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"<x/>")
        archive.writestr(SHEET, b" " * (books.MOST_UNPACKED + 1))
    assert len(out.getvalue()) < 1_000_000
    with pytest.raises(UnreadableFile, match="Unpacked, this workbook is larger"):
        table(out.getvalue())


def test_a_workbook_with_entities_is_not_opened() -> None:
    plain = changed(book(["Name"], ["Ilva"]), SHEET, b"<worksheet", b"<!-- plain --><worksheet")
    assert table(plain).rows[0].cells == ["Ilva"]
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><worksheet'
    with pytest.raises(UnreadableFile, match="cannot be read"):
        table(changed(book(["Name"], ["Ilva"]), SHEET, b"<worksheet", bomb))


def test_a_row_far_out_is_refused_as_too_many_cells_or_columns() -> None:
    wide = changed(book(["Name"], ["Ilva"]), SHEET, b'r="A2"', b'r="XFD2"')
    with pytest.raises(UnreadableFile, match="columns; at most 60"):
        table(wide)


def test_a_workbook_of_too_many_rows_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(books, "MOST_ROWS", 3)
    with pytest.raises(
        UnreadableFile, match=r"has 4 rows; of a workbook at most 3 .* None of it was read: save the sheet as CSV"
    ):
        table(book(["Name"], *[[f"Rider {n}"] for n in range(4)]))


COLUMNS = (Column("name", "", ("customer",)), Column("phone", "", ("tel.",)), Column("price", "", decimals=2))


def test_columns_are_guessed_from_their_heads() -> None:
    assert guess(COLUMNS, ["Customer", "TEL", "Colour", "Name"]) == ["name", "phone", "", ""]


@pytest.mark.parametrize(
    ("cells", "signs", "doubtful"),
    [
        (["12,5", "3"], {","}, []),
        (["12.5", "1,200.50"], {"."}, []),
        (["1.200,50"], {","}, []),
        (["1.500"], set(), ["1.500"]),
        (["1,500", "0,500"], {","}, ["1,500"]),
        (["1.234.567"], {","}, []),
        (["Ilva", "", "7"], set(), []),
    ],
)
def test_the_decimal_sign_is_told_or_doubtful(cells: list[str], signs: set[str], doubtful: list[str]) -> None:
    assert decimal_signs(cells) == (signs, doubtful)


@pytest.mark.parametrize(
    ("cell", "sign", "plain"),
    [
        ("1.500", ",", "1500"), ("1.500", ".", "1.5"), ("1,125", ",", "1.1250"), ("-1.200,50", ",", "-1200.5"),
        ("1,200.50", ".", "1200.5"), ("12", ",", "12"), ("12,5", ".", "12,5"), ("dear", ",", "dear"),
        ("0,5", ",", "0.5"),
    ],
)  # fmt: skip
def test_a_number_whose_sign_is_known_is_plain(cell: str, sign: str, plain: str) -> None:
    assert with_sign(cell, sign) == plain
