"""A file of values: a dry run says each row's fate, then exactly that is imported, or nothing."""

from __future__ import annotations

import json
import random
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest_django import DjangoAssertNumQueries

from specs.entering import ValueSource, change_value, enter_value, withdraw_value
from specs.expected import expected_keys
from specs.exporting import blank_csv, export_csv, exported_values
from specs.importing import Fate, PlanChanged, carry_out, plan_import
from specs.models import SpecValue, SuspensionModel
from specs.value_files import COLUMNS, MOST_BYTES, MOST_ROWS, UnreadableFile, read_rows, safe_cell
from tests.factories import SpecValueFactory, SuspensionModelFactory, UserFactory
from workshop.demo.specs_data import FOLDER, load_demo_specs

pytestmark = pytest.mark.django_db

HEADER = "maker,model,year_from,quantity,travel_mm,value,unit,tolerance,source_document,source_revision,source_page\n"
GOOD = "Kestrigan,Plume,2021,foot_torque_air_leg,,8,N·m,5 %,Invented manual for tests,A,12\n"


@pytest.fixture
def plume() -> SuspensionModel:
    return SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021, travels_mm=[130, 140])


def _csv(*lines: str) -> bytes:
    return (HEADER + "".join(lines)).encode()


def _fates(content: bytes) -> list[Fate]:
    return [row.fate for row in plan_import(content).rows]


@pytest.mark.usefixtures("plume")
def test_a_dry_run_writes_nothing() -> None:
    plan = plan_import(_csv(GOOD))
    assert [row.fate for row in plan.rows] == [Fate.NEW]
    assert not SpecValue.objects.exists()


@pytest.mark.usefixtures("plume")
def test_a_confirmed_dry_run_is_carried_out_and_waits_for_checks() -> None:
    person = UserFactory()
    content = _csv(GOOD, GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "sag_low,140,15,%,"))
    carry_out(content=content, digest=plan_import(content).digest, entered_by=person)
    torque, sag = SpecValue.objects.order_by("quantity")
    assert (torque.typed, torque.magnitude_si, torque.source) == ("8 N·m", 8.0, "Invented manual for tests, A, p. 12")
    assert torque.tolerance_si == pytest.approx(0.4)
    assert (sag.travel_mm, sag.entered_by, sag.is_checked) == (140, person, False)


def test_each_row_has_its_fate(plume: SuspensionModel) -> None:
    for quantity, typed, magnitude in (("axle_torque", "12 N·m", 12.0), ("stem_torque", "5 N·m", 5.0)):
        SpecValueFactory(model=plume, quantity=quantity, typed=typed, magnitude_si=magnitude)
    plan = plan_import(
        _csv(
            GOOD,
            GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "axle_torque,,120,kgf·cm,"),
            GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", 'stem_torque,,"5,0",Nm,'),
            GOOD.replace("foot_torque_air_leg,,8,N·m", "foot_torque_damper_leg,,80,N·m"),
        )
    )
    assert [row.fate for row in plan.rows] == [Fate.NEW, Fate.CHANGED, Fate.UNCHANGED, Fate.REFUSED]
    assert [row.row.place for row in plan.rows] == [2, 3, 4, 5]
    assert plan.rows[1].stored is not None
    assert plan.rows[1].stored.typed == "12 N·m"
    (fault,) = plan.rows[3].faults
    assert (fault.column, "decimal point" in fault.reason) == ("value", True)


def test_a_changed_value_becomes_the_next_version_without_its_check(plume: SuspensionModel) -> None:
    old = SpecValueFactory(model=plume, quantity="foot_torque_air_leg", typed="7 N·m", magnitude_si=7.0)
    carry_out(content=_csv(GOOD), digest=plan_import(_csv(GOOD)).digest, entered_by=UserFactory())
    old.refresh_from_db()
    new = SpecValue.objects.get(is_current=True)
    assert (old.is_current, new.number, new.magnitude_si, new.is_checked) == (False, 2, 8.0, False)


def test_a_withdrawn_value_is_shown_as_a_change(plume: SuspensionModel) -> None:
    old = SpecValueFactory(model=plume, quantity="foot_torque_air_leg", typed="7 N·m", magnitude_si=7.0)
    withdraw_value(seen=old, why="Misread.", entered_by=UserFactory())
    (row,) = plan_import(_csv(GOOD)).rows
    assert row.fate is Fate.CHANGED
    assert row.stored is not None
    assert row.stored.withdrawn
    assert row.version is not None
    assert row.version.number == 3


@pytest.mark.parametrize(
    ("line", "column", "reason"),
    [
        (GOOD.replace("Plume", "Plumage"), "model", "Add the model first"),
        (GOOD.replace("2021", "21"), "year_from", "no year"),
        (GOOD.replace("2021", "1999"), "model", "Add the model first"),
        (GOOD.replace("foot_torque_air_leg", "colour"), "quantity", "no quantity"),
        (GOOD.replace("8,N·m", "8,psi"), "value", "not a unit of torque"),
        (GOOD.replace("8,N·m", "8,furlong"), "value", "not known"),
        (GOOD.replace("8,N·m", "8,"), "value", "unit is missing"),
        (GOOD.replace("8,N·m", "8 N·m,N·m"), "unit", "twice"),
        (GOOD.replace("8,N·m", "80,N·m"), "value", "decimal point"),
        (GOOD.replace("8,N·m", "eight,N·m"), "value", "Enter a number"),
        (GOOD.replace("8,N·m", ",N·m"), "value", "empty"),
        (GOOD.replace("5 %", "psi"), "tolerance", "Enter a number"),
        (GOOD.replace("_leg,,", "_leg,145,"), "travel_mm", "no 145 mm"),
        (GOOD.replace("_leg,,", "_leg,long,"), "travel_mm", "whole millimetres"),
        (GOOD.replace("Invented manual for tests", ""), "source_document", "empty"),
        (GOOD.replace("Invented manual for tests", "x" * 161), "source_document", "160"),
        (GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "damper_oil,,Fell Fluid,ml,"), "unit", "no unit"),
        (GOOD.replace(",12\n", ",12,13\n"), "", "quotation marks"),
        ("Kestrigan,Plume\n", "year_from", "empty"),
    ],
)
@pytest.mark.usefixtures("plume")
def test_a_bad_row_names_its_line_column_and_reason(line: str, column: str, reason: str) -> None:
    other = GOOD.replace("foot_torque_air_leg", "foot_torque_damper_leg")
    good, bad = plan_import(_csv(other, line)).rows
    assert good.fate is Fate.NEW
    assert (bad.fate, bad.row.place) == (Fate.REFUSED, 3)
    assert (bad.faults[0].column, len(bad.faults)) == (column, 4 if line == "Kestrigan,Plume\n" else 1)
    assert reason in bad.faults[0].reason


@pytest.mark.usefixtures("plume")
def test_all_that_is_wrong_with_a_row_is_told_at_once() -> None:
    line = GOOD.replace("2021", "21").replace("_leg,,8,N·m", "_leg,long,80,N·m").replace("Invented manual", "x" * 161)
    (row,) = plan_import(_csv(line)).rows
    assert [fault.column for fault in row.faults] == ["year_from", "travel_mm", "value", "source_document"]
    (row,) = plan_import(_csv(line.replace("80,N·m", ",").replace("Plume", ""))).rows
    assert [fault.column for fault in row.faults] == ["model", "value", "travel_mm", "source_document"]


def test_all_that_is_wrong_with_a_header_or_an_entry_is_told_at_once() -> None:
    with pytest.raises(UnreadableFile, match="has no column year_from; has a column not known here: age; repeats unit"):
        plan_import(HEADER.replace("tolerance", "unit").replace("year_from", "age").encode())
    (entry,) = read_rows(b'{"layout": "spec-values-1", "values": [{"age": 1, "value": [], "unit": {}}]}')
    assert entry.fault == (
        "“age” is no key of the layout. “value” has to be text or a number. “unit” has to be text or a number."
    )


@pytest.mark.usefixtures("plume")
def test_a_value_given_twice_is_refused_in_each_place() -> None:
    plan = plan_import(_csv(GOOD, GOOD.replace("8,N·m", "9,N·m")))
    assert [row.fate for row in plan.rows] == [Fate.REFUSED, Fate.REFUSED]
    assert "again in line 3" in plan.rows[0].faults[0].reason


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n", "empty"),
        (HEADER.encode(), "no values"),
        (HEADER.encode() + "Kestrigan,Plüme".encode("latin-1"), "Line 2 is not UTF-8"),
        (HEADER.encode("utf-16"), "not UTF-8"),
        (b"a\x00b", "not a text file"),
        (b"maker,model\n", "no column year_from, quantity, value, source_document"),
        (HEADER.replace("tolerance", "colour").encode(), "not known here: colour"),
        (HEADER.replace("tolerance", "unit").encode(), "repeats unit"),
        (HEADER.encode() + b'Kestrigan,"Plume\n', "quotation mark left open"),
        (HEADER.encode() + b"x" * MOST_BYTES, "larger than 512 KB"),
        (HEADER.encode() + GOOD.encode() * (MOST_ROWS + 1), "at most 2,000"),
        (b'{"layout": "spec-values-1"', "is not JSON"),
        (b'{"layout": "another", "values": []}', "spec-values-1"),
        (b'{"layout": "spec-values-1", "values": {}}', "spec-values-1"),
        (b'{"layout": "spec-values-1", "values": []}', "no values"),
        (b'{"layout": "spec-values-1", "layout": "spec-values-1", "values": []}', "repeated"),
        (b"[" * 200_000, "nested too deep"),
    ],
)
def test_an_unreadable_file_says_what_to_do(content: bytes, reason: str) -> None:
    with pytest.raises(UnreadableFile, match=reason):
        plan_import(content)


@pytest.mark.parametrize("delimiter", [";", "\t"])
@pytest.mark.usefixtures("plume")
def test_semicolons_tabs_windows_line_ends_and_a_byte_order_mark_are_read(delimiter: str) -> None:
    text = (HEADER + GOOD).replace(",", delimiter).replace("\n", "\r\n")
    assert _fates(text.encode("utf-8-sig")) == [Fate.NEW]


@pytest.mark.usefixtures("plume")
def test_lines_are_counted_as_an_editor_counts_them() -> None:
    two_lines = GOOD.replace("Invented manual for tests", '"Invented\nmanual"').replace("_air_", "_damper_")
    plan = plan_import(_csv("\n", two_lines, GOOD))
    assert [row.row.place for row in plan.rows] == [3, 5]


def _json(*entries: object) -> bytes:
    return json.dumps({"layout": "spec-values-1", "values": list(entries)}).encode()


@pytest.mark.usefixtures("plume")
def test_json_says_the_same_as_csv() -> None:
    entry = {
        "maker": "Kestrigan", "model": "Plume", "year_from": 2021, "quantity": "foot_torque_air_leg", "value": 8.0,
        "unit": "N·m", "travel_mm": None, "source_document": "Invented manual for tests",
    }  # fmt: skip
    (row,) = plan_import(_json(entry)).rows
    assert row.fate is Fate.NEW
    assert row.version is not None
    assert row.version.magnitude_si == 8.0


@pytest.mark.parametrize(
    ("entry", "reason"),
    [("8 N·m", "no object"), ({"colour": "red"}, "no key"), ({"value": [8]}, "text or a number")],
)
def test_a_bad_json_entry_is_refused(entry: object, reason: str) -> None:
    (row,) = plan_import(_json(entry)).rows
    assert row.fate is Fate.REFUSED
    assert reason in row.faults[0].reason


@pytest.mark.usefixtures("plume")
def test_another_file_than_the_one_shown_is_not_imported() -> None:
    digest = plan_import(_csv(GOOD)).digest
    with pytest.raises(PlanChanged):
        carry_out(content=_csv(GOOD.replace("8,N·m", "9,N·m")), digest=digest, entered_by=UserFactory())
    assert not SpecValue.objects.exists()


def test_specs_changed_after_the_dry_run_stop_the_import(plume: SuspensionModel) -> None:
    old = SpecValueFactory(model=plume, quantity="foot_torque_air_leg", typed="7 N·m", magnitude_si=7.0)
    digest = plan_import(_csv(GOOD)).digest
    mine = change_value(seen=old, typed="9 N·m", source=ValueSource("Letter"), entered_by=UserFactory())
    with pytest.raises(PlanChanged) as changed:
        carry_out(content=_csv(GOOD), digest=digest, entered_by=UserFactory())
    assert SpecValue.objects.get(is_current=True) == mine
    assert changed.value.plan.rows[0].stored == mine


@pytest.mark.usefixtures("plume")
def test_refused_rows_are_left_out_and_the_others_imported() -> None:
    content = _csv(GOOD, GOOD.replace("foot_torque_air_leg", "colour"))
    carry_out(content=content, digest=plan_import(content).digest, entered_by=UserFactory())
    assert SpecValue.objects.count() == 1


def test_the_demo_values_are_an_example_of_the_layout() -> None:
    load_demo_specs(entered_by=UserFactory(), checked_by=UserFactory())
    content = (FOLDER / "values.csv").read_bytes()
    assert set(_fates(content)) == {Fate.UNCHANGED}
    SpecValue.objects.all().delete()
    assert set(_fates(content)) == {Fate.NEW}


def test_what_is_exported_reads_back_unchanged() -> None:
    load_demo_specs(entered_by=UserFactory(), checked_by=UserFactory())
    exported = export_csv(exported_values())
    assert exported.startswith(b"\xef\xbb\xbf" + ",".join(COLUMNS).encode())
    assert len(plan_import(exported).rows) == SpecValue.objects.count()
    assert set(_fates(exported)) == {Fate.UNCHANGED}


def test_a_sag_typed_as_a_depth_of_one_travel_reads_back_unchanged(plume: SuspensionModel) -> None:
    """26 mm of 130 mm are 20 %; the file keeps what was typed, and the travel beside it."""
    person, source = UserFactory(), ValueSource("A letter")
    enter_value(
        model=plume, quantity="sag_low", typed="26 mm", unit="%", travel_mm=130, source=source, entered_by=person
    )
    exported = export_csv(exported_values(plume))
    assert b"26,mm" in exported
    assert _fates(exported) == [Fate.UNCHANGED]
    assert SpecValue.objects.get(quantity="sag_low").magnitude_si == pytest.approx(0.20)


def test_only_current_values_of_the_wanted_model_are_exported(plume: SuspensionModel) -> None:
    old = SpecValueFactory(model=plume)
    change_value(seen=old, typed="130 psi", source=ValueSource("Letter"), entered_by=UserFactory())
    withdraw_value(seen=SpecValueFactory(model=plume, quantity="axle_torque"), why="Misread.", entered_by=UserFactory())
    SpecValueFactory()
    assert [value.typed for value in exported_values(plume)] == ["130 psi"]


@pytest.mark.parametrize("formula", ['=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "'=1", "＝1"])
def test_a_cell_is_never_a_formula_and_still_reads_back(plume: SuspensionModel, formula: str) -> None:
    SpecValueFactory(model=plume, source_document=formula)
    exported = export_csv(exported_values())
    assert f"'{formula}".replace('"', '""') in exported.decode()
    assert _fates(exported) == [Fate.UNCHANGED]


@given(st.text(alphabet=string.printable + "＝＋－＠\u2003", max_size=30))
def test_a_guarded_cell_starts_no_formula(text: str) -> None:
    for before in ("", " ", "\n", "\r\n\t"):
        assert not safe_cell(before + text).lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))


@given(st.binary(max_size=200))
def test_any_bytes_are_rows_or_refused_in_words(content: bytes) -> None:
    for start in (b"", HEADER.encode(), b'{"layout": "spec-values-1", "values": ['):
        refusal = ""
        rows = []
        try:
            rows = read_rows(start + content)
        except UnreadableFile as error:
            refusal = str(error)
        assert rows or refusal


def test_a_large_dry_run_takes_as_many_queries_as_a_small_one(
    django_assert_num_queries: DjangoAssertNumQueries, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    models = SuspensionModelFactory.create_batch(40, travels_mm=[100 + n for n in range(50)])
    lines = [
        f"{model.maker},{model.name},2021,max_pressure,{travel_mm},{random.Random(n).randint(60, 300)},psi,,Manual,,\n"
        for n, model in enumerate(models)
        for travel_mm in model.travels_mm
    ]
    content = _csv(*lines)
    with django_assert_num_queries(2):
        plan = plan_import(content)
    assert plan.count(Fate.NEW) == 2000
    # Rows go in as few statements as the database takes: SQLite allows 999 values in one, so about 50 rows.
    with django_assert_max_num_queries(50):
        carry_out(content=content, digest=plan.digest, entered_by=UserFactory())
    assert SpecValue.objects.count() == 2000


def _pressure_in_bar(dimension: str) -> str:
    return {"pressure": "bar", "torque": "N·m", "volume": "ml", "length": "mm", "fraction": "%"}.get(dimension, "")


def test_a_blank_sheet_has_what_is_missing_and_brought_back_blank_changes_nothing(plume: SuspensionModel) -> None:
    SpecValueFactory(model=plume, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)
    sheet = blank_csv(plume, _pressure_in_bar)
    rows = read_rows(sheet)
    assert [row.cells["quantity"] for row in rows] == [key for key in expected_keys(plume) if key != "axle_torque"]
    pressure = next(row.cells for row in rows if row.cells["quantity"] == "max_pressure")
    assert (pressure["unit"], pressure["value"], pressure["quantity_in_words"]) == ("bar", "", "Maximum pressure")
    plan = plan_import(sheet)
    assert {row.fate for row in plan.rows} == {Fate.BLANK}
    assert plan.to_write == []


def test_a_sheet_filled_in_elsewhere_brings_only_what_was_filled_in(plume: SuspensionModel) -> None:
    filled = [
        line.replace("caliper_torque,,,N·m,,,,", "caliper_torque,,7,N·m,,Sheet,B,4").replace(
            "stem_torque,,,N·m,,,,", "stem_torque,,0,N·m,,Sheet,B,4"
        )
        for line in blank_csv(plume, _pressure_in_bar).decode("utf-8-sig").splitlines()
    ]
    content = "\n".join(filled).encode()
    plan = plan_import(content)
    fates = {row.row.cells["quantity"]: row.fate for row in plan.rows if row.fate is not Fate.BLANK}
    assert fates == {"caliper_torque": Fate.NEW, "stem_torque": Fate.REFUSED}  # a zero is no blank
    carry_out(content=content, digest=plan.digest, entered_by=UserFactory())
    assert SpecValue.objects.get().typed == "7 N·m"


def test_an_emptied_value_asks_to_be_withdrawn_and_is_not_taken_away(plume: SuspensionModel) -> None:
    emptied = _csv(GOOD.replace(",8,N·m,5 %,", ",,N·m,,"))
    assert _fates(emptied) == [Fate.BLANK]
    stored = SpecValueFactory(model=plume, quantity="foot_torque_air_leg", typed="8 N·m", magnitude_si=8.0)
    [row] = plan_import(emptied).rows
    assert row.fate is Fate.REFUSED
    assert "8 N·m is stored" in row.faults[0].reason
    withdraw_value(seen=stored, why="Misread", entered_by=UserFactory())
    assert _fates(emptied) == [Fate.BLANK]
