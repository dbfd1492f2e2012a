"""Values of models from a file: what becomes of each row, the next version of each value, and the one before again."""

from __future__ import annotations

import io

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import Workbook

from specs.entering import ValueSource, change_value, check_value, enter_value, withdraw_value
from specs.expected import expected_keys
from specs.exporting import blank_csv, export_csv, exported_values
from specs.models import SpecValue, SuspensionModel
from specs.value_rows import COLUMNS
from tests.factories import ShopFactory, SpecValueFactory, SuspensionModelFactory, UserFactory
from tests.moving import fates, imported, looked_at, moved_in, reasons, taken_back
from tests.squeezed import squeezed
from workshop.demo.specs_data import FOLDER, load_demo_specs
from workshop.models import Sheet, Shop
from workshop.moving.kinds import KINDS
from workshop.sheets import steps
from workshop.sheets.steps import bring_in, go_on

pytestmark = pytest.mark.django_db
HEADER = ",".join(COLUMNS) + "\n"
GOOD = "Kestrigan,Plume,2021,foot_torque_air_leg,,8,N·m,5 %,Invented manual for tests,A,12\n"
AXLE = GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "axle_torque,,13,N·m,")


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def plume() -> SuspensionModel:
    return SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021, travels_mm=[130, 140])


def value_of(model: SuspensionModel, quantity: str = "foot_torque_air_leg") -> SpecValue:
    return SpecValue.objects.get(model=model, quantity=quantity, is_current=True)


def test_values_come_in_with_their_source_and_wait_for_a_check(shop: Shop, plume: SuspensionModel) -> None:
    sheet = looked_at(
        shop, "values", HEADER + GOOD + GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "sag_low,140,15,%,")
    )
    assert (fates(sheet), SpecValue.objects.count()) == (["new", "new"], 0)
    imported(sheet)
    torque, sag = value_of(plume), value_of(plume, "sag_low")
    assert (torque.typed, torque.magnitude_si, torque.source) == ("8 N·m", 8.0, "Invented manual for tests, A, p. 12")
    assert torque.tolerance_si == pytest.approx(0.4)
    assert (sag.travel_mm, sag.is_checked) == (140, False)


def test_each_row_has_its_fate(shop: Shop, plume: SuspensionModel) -> None:
    for quantity, typed, magnitude in (("axle_torque", "12 N·m", 12.0), ("stem_torque", "5 N·m", 5.0)):
        SpecValueFactory(model=plume, quantity=quantity, typed=typed, magnitude_si=magnitude)
    rows = (
        GOOD
        + GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "axle_torque,,120,kgf·cm,")
        + GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", 'stem_torque,,"5,0",Nm,')
        + GOOD.replace("foot_torque_air_leg,,8,N·m", "foot_torque_damper_leg,,80,N·m")
        + GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "caliper_torque,,,,")
    )
    sheet = looked_at(shop, "values", HEADER + rows)
    assert fates(sheet) == ["new", "changed", "unchanged", "refused", "unchanged"]
    _, changed, _, refused, blank = sheet.rows.all()
    assert ["value", "12 N·m", "120 kgf·cm"] in changed.changes
    assert refused.reason.startswith("value: That is far more")
    assert blank.reason.startswith("Left blank")


@pytest.mark.parametrize(
    ("line", "column", "reason"),
    [
        (GOOD.replace("Plume", "Plumage"), "model", "Bring the models in first"),
        (GOOD.replace("2021", "1999"), "model", "Bring the models in first"),
        (GOOD.replace("foot_torque_air_leg", "colour"), "quantity", "no quantity"),
        (GOOD.replace("foot_torque_air_leg", "axle tork"), "quantity", "Is “Axle” meant?"),
        (GOOD.replace("foot_torque_air_leg", "Foot fastener"), "leg", "spring side” or “Foot fastener, damper side”"),
        (GOOD.replace("8,N·m", "8,psi"), "value", "not a unit of torque"),
        (GOOD.replace("8,N·m", "8,furlong"), "value", "not known"),
        (GOOD.replace("8,N·m", "8,"), "value", "unit is missing"),
        (GOOD.replace("8,N·m", "8 N·m,N·m"), "unit", "twice"),
        (GOOD.replace("8,N·m", "8 ±1,N·m"), "tolerance", "twice"),
        (GOOD.replace("8,N·m", "80,N·m"), "value", "decimal point"),
        (GOOD.replace("8,N·m", "eight,N·m"), "value", "Enter a number"),
        (GOOD.replace("8,N·m", ",N·m"), "value", "empty"),
        (GOOD.replace("5 %", "psi"), "tolerance", "Enter a number"),
        (GOOD.replace("_leg,,", "_leg,145,"), "travel_mm", "no 145 mm"),
        (GOOD.replace("_leg,,", "_leg,long,"), "travel_mm", "whole millimetres"),
        (GOOD.replace("Invented manual for tests", ""), "source_document", "empty"),
        (GOOD.replace("Invented manual for tests", "x" * 161), "source_document", "160"),
        (GOOD.replace("foot_torque_air_leg,,8,N·m,5 %", "damper_oil,,Fell Fluid,ml,"), "unit", "no unit"),
        (GOOD.replace("foot_torque_air_leg", "upper_crown_torque"), "quantity", "One of the two is wrong"),
        (GOOD.replace(",12\n", ",12,13\n"), "12 cells in 11 columns", "quotation marks"),
    ],
)
def test_a_bad_row_names_its_column_and_why_and_the_rest_comes_in(
    shop: Shop, plume: SuspensionModel, line: str, column: str, reason: str
) -> None:
    SuspensionModel.objects.filter(pk=plume.pk).update(crowns="single")
    sheet = looked_at(shop, "values", HEADER + AXLE + line)
    good, bad = sheet.rows.all()
    assert (good.fate, bad.fate, bad.place) == ("new", "refused", 3)
    assert bad.reason.startswith(column)
    assert reason in bad.reason
    imported(sheet)
    assert [value.quantity for value in SpecValue.objects.all()] == ["axle_torque"]


@pytest.mark.usefixtures("plume")
def test_all_that_is_wrong_with_a_row_is_told_at_once(shop: Shop) -> None:
    line = GOOD.replace("2021", "21").replace("_leg,,8,N·m", "_leg,long,80,N·m").replace("Invented manual", "x" * 161)
    (reason,) = reasons(looked_at(shop, "values", HEADER + line))
    assert all(f"{column}: " in reason for column in ("model", "travel_mm", "value", "source_document"))


@pytest.mark.parametrize(
    ("quantity", "leg", "key"),
    [
        ("Foot fastener, spring side", "", "foot_torque_air_leg"),
        ("foot fastener", "spring", "foot_torque_air_leg"),
        ("FOOT FASTENER", "Damper side", "foot_torque_damper_leg"),
        ("foot torque", "air leg", "foot_torque_air_leg"),
        ("foot_torque_air_leg", "spring", "foot_torque_air_leg"),
        ("Shock bolt", "rear", "shock_bolt_torque_rear"),
        ("Axle", "", "axle_torque"),
    ],
)
def test_a_quantity_is_known_by_its_name_or_its_words_and_its_leg(
    shop: Shop, plume: SuspensionModel, quantity: str, leg: str, key: str
) -> None:
    content = f'Brand;Model;Year;Quantity;Side;Value;Source\nkestrigan;PLUME;2021;"{quantity}";{leg};"8,5 N·m";Manual\n'
    moved_in(shop, "values", content)
    assert value_of(plume, key).magnitude_si == 8.5


@pytest.mark.parametrize(
    ("quantity", "leg", "reason"),
    [
        ("foot_torque_air_leg", "damper", "of another leg"),
        ("axle_torque", "spring", "no leg or side"),
        ("axle_torque", "left", "none of spring, damper"),
    ],
)
@pytest.mark.usefixtures("plume")
def test_a_leg_that_does_not_fit_is_refused(shop: Shop, quantity: str, leg: str, reason: str) -> None:
    heads = "maker,model,year_from,quantity,leg,value,unit,source_document\n"
    (said,) = reasons(looked_at(shop, "values", f"{heads}Kestrigan,Plume,2021,{quantity},{leg},8,N·m,M\n"))
    assert reason in said


def test_decimal_commas_and_another_encoding_are_read_and_the_name_of_an_oil_stays(
    shop: Shop, plume: SuspensionModel
) -> None:
    content = (
        "Hersteller;Modell;Jahr;Größe;Wert;Einheit;Toleranz;Quelle\n"
        "Kestrigan;Plume;2021;Positive chamber volume, extended;112,5;ml;0,5;Händler\n"
        "Kestrigan;Plume;2021;lower_leg_volume;1.050;ml;;Händler\n"
        "Kestrigan;Plume;2021;damper_oil;2,500;;;Händler\n"
    ).encode("cp1252")
    imported(looked_at(shop, "values", content, decimal_sign=","))
    assert value_of(plume, "positive_volume").magnitude_si == pytest.approx(112.5e-6)
    assert value_of(plume, "positive_volume").tolerance_si == pytest.approx(0.5e-6)
    assert value_of(plume, "lower_leg_volume").magnitude_si == pytest.approx(1050e-6)
    assert (value_of(plume, "damper_oil").text, value_of(plume, "damper_oil").source) == ("2,500", "Händler")


def test_a_workbook_is_read_its_numbers_as_they_are(shop: Shop, plume: SuspensionModel) -> None:
    book, out = Workbook(), io.BytesIO()
    sheet = book.active
    assert sheet is not None
    sheet.append(["maker", "model", "year_from", "quantity", "value", "unit", "source_document"])
    sheet.append(["Kestrigan", "Plume", 2021, "axle_torque", 12.125, "N·m", "Manual"])
    sheet.append(["Kestrigan", "Plume", 2021, "foot_key", 5, None, "Manual"])
    book.save(out)
    moved_in(shop, "values", out.getvalue())
    assert value_of(plume, "axle_torque").magnitude_si == 12.125
    assert value_of(plume, "foot_key").text == "5"


@pytest.mark.usefixtures("plume")
def test_of_a_value_that_a_file_gives_twice_neither_is_taken(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second may stand far behind, when the first was looked at long ago."""
    monkeypatch.setattr(steps, "ROWS_IN_A_CHUNK", 2)
    again = GOOD.replace("foot_torque_air_leg", '"Foot fastener, spring side"')
    sheet = looked_at(shop, "values", HEADER + GOOD + AXLE + again.replace(",8,", ",9,") + GOOD)
    assert fates(sheet) == ["refused", "new", "refused", "refused"]
    assert "again in line 4, 5" in sheet.rows.all()[0].reason.replace("lines", "line")
    imported(sheet)
    assert [value.quantity for value in SpecValue.objects.all()] == ["axle_torque"]


def test_a_changed_value_is_the_next_version_without_its_check_and_goes_back_with_it(
    shop: Shop, plume: SuspensionModel
) -> None:
    person, checker = UserFactory(shop=shop), UserFactory(shop=shop)
    source = ValueSource("Sticker")
    old = enter_value(model=plume, quantity="foot_torque_air_leg", typed="7 N·m", source=source, entered_by=person)
    check_value(value=old, checked_by=checker)
    sheet = looked_at(shop, "values", HEADER + GOOD + AXLE)
    assert "has to be checked anew" in sheet.rows.all()[0].reason
    imported(sheet)
    new = value_of(plume)
    assert (new.number, new.magnitude_si, new.is_checked) == (2, 8.0, False)
    taken_back(sheet)
    assert {row.outcome for row in sheet.rows.all()} == {"taken_back"}
    again = value_of(plume)
    assert (again.pk, again.is_checked, again.checked_by) == (old.pk, True, checker)
    assert not SpecValue.objects.filter(quantity="axle_torque", is_current=True).exists()
    new.refresh_from_db()
    assert new.taken_back_at is not None
    third = change_value(seen=again, typed="6 N·m", source=source, entered_by=person)
    fourth = enter_value(model=plume, quantity="axle_torque", typed="12 N·m", source=source, entered_by=person)
    assert (third.number, fourth.number) == (3, 2)


def test_what_somebody_changed_checked_or_withdrew_since_stays_and_is_said(shop: Shop, plume: SuspensionModel) -> None:
    stem = AXLE.replace("axle", "stem").replace("13", "6")
    sheet = moved_in(shop, "values", HEADER + GOOD + AXLE + stem + stem.replace("stem", "caliper"))
    person = UserFactory(shop=shop)
    change_value(seen=value_of(plume), typed="9 N·m", source=ValueSource("Letter"), entered_by=person)
    check_value(value=value_of(plume, "axle_torque"), checked_by=person)
    withdraw_value(seen=value_of(plume, "stem_torque"), why="Misread.", entered_by=person)
    taken_back(sheet)
    assert [row.outcome for row in sheet.rows.all()] == ["stays", "stays", "stays", "taken_back"]
    assert [row.said.partition(",")[0] for row in sheet.rows.all()][:3] == [
        "Somebody changed it since", "Somebody checked it since", "Somebody changed it since",
    ]  # fmt: skip
    assert value_of(plume).magnitude_si == 9.0
    assert value_of(plume, "axle_torque").is_checked
    assert value_of(plume, "stem_torque").withdrawn


def test_what_changed_after_it_was_shown_is_left_out(shop: Shop, plume: SuspensionModel) -> None:
    sheet = looked_at(shop, "values", HEADER + GOOD)
    mine = enter_value(
        model=plume, quantity="foot_torque_air_leg", typed="9 N·m", source=ValueSource("L"), entered_by=UserFactory()
    )
    imported(sheet)
    assert "changed after you looked" in sheet.rows.get().said
    assert SpecValue.objects.get() == mine


def test_a_withdrawn_value_comes_in_again_and_is_withdrawn_again(shop: Shop, plume: SuspensionModel) -> None:
    old = SpecValueFactory(model=plume, quantity="foot_torque_air_leg", typed="7 N·m", magnitude_si=7.0)
    withdraw_value(seen=old, why="Misread.", entered_by=UserFactory())
    sheet = looked_at(shop, "values", HEADER + GOOD)
    assert ["value", "withdrawn", "8 N·m"] in sheet.rows.get().changes
    imported(sheet)
    assert value_of(plume).number == 3
    taken_back(sheet)
    assert value_of(plume).withdrawn


def _pressure_in_bar(dimension: str) -> str:
    return {"pressure": "bar", "torque": "N·m", "volume": "ml", "length": "mm", "fraction": "%"}.get(dimension, "")


def test_a_blank_sheet_needs_no_matching_and_brought_back_blank_changes_nothing(
    shop: Shop, plume: SuspensionModel
) -> None:
    SpecValueFactory(model=plume, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)
    blank = blank_csv(plume, _pressure_in_bar)
    sheet = bring_in(shop=shop, kind=KINDS["values"], name="x.csv", content=blank, by=None)
    assert sheet.state == Sheet.State.LOOKING
    sheet = looked_at(shop, "values", blank)
    rows = sheet.rows.all()
    assert [row.cells["quantity"] for row in rows] == [key for key in expected_keys(plume) if key != "axle_torque"]
    pressure = next(row.cells for row in rows if row.cells["quantity"] == "max_pressure")
    assert (pressure["unit"], pressure["value"], pressure["quantity_in_words"]) == ("bar", "", "Maximum pressure")
    assert set(fates(sheet)) == {"unchanged"}


def test_a_blank_sheet_filled_in_elsewhere_brings_only_what_was_filled_in(shop: Shop, plume: SuspensionModel) -> None:
    """The spreadsheet it was filled in parts by semicolons and writes commas before decimals."""
    lines = [
        line.replace(",", ";")
        .replace("caliper_torque;;;N·m;;;;", "caliper_torque;;7,5;N·m;;Sheet;B;4")
        .replace("stem_torque;;;N·m;;;;", "stem_torque;;0;N·m;;Sheet;B;4")
        for line in blank_csv(plume, _pressure_in_bar).decode("utf-8-sig").splitlines()
        if '"' not in line
    ]
    sheet = moved_in(shop, "values", "\r\n".join(lines))
    assert {row.cells["quantity"]: row.fate for row in sheet.rows.all() if row.fate != "unchanged"} == {
        "caliper_torque": "new", "stem_torque": "refused",
    }  # fmt: skip
    assert SpecValue.objects.get().typed == "7,5 N·m"


def test_an_emptied_value_asks_to_be_withdrawn_and_is_not_taken_away(shop: Shop, plume: SuspensionModel) -> None:
    emptied = HEADER + GOOD.replace(",8,N·m,5 %,", ",,N·m,,")
    assert fates(looked_at(shop, "values", emptied)) == ["unchanged"]
    SpecValueFactory(model=plume, quantity="foot_torque_air_leg", typed="8 N·m", magnitude_si=8.0)
    (reason,) = reasons(looked_at(shop, "values", emptied))
    assert "8 N·m is stored" in reason


def test_the_demo_values_and_what_is_exported_read_back_unchanged(shop: Shop) -> None:
    load_demo_specs(entered_by=UserFactory(), checked_by=UserFactory())
    for content in ((FOLDER / "values.csv").read_bytes(), export_csv(exported_values())):
        sheet = looked_at(shop, "values", content)
        assert set(fates(sheet)) == {"unchanged"}
        assert sheet.rows_in_all == SpecValue.objects.count()


def test_a_sag_typed_as_a_depth_of_one_travel_reads_back_unchanged(shop: Shop, plume: SuspensionModel) -> None:
    """26 mm of 130 mm are 20 %; the file keeps what was typed, and the travel beside it."""
    enter_value(
        model=plume, quantity="sag_low", typed="26 mm", unit="%", travel_mm=130, source=ValueSource("A letter"),
        entered_by=UserFactory(),
    )  # fmt: skip
    assert fates(looked_at(shop, "values", export_csv(exported_values(plume)))) == ["unchanged"]


@pytest.mark.parametrize("formula", ['=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "'=1", "＝1"])
def test_a_cell_is_never_a_formula_and_still_reads_back(shop: Shop, plume: SuspensionModel, formula: str) -> None:
    SpecValueFactory(model=plume, source_document=formula)
    content = export_csv(exported_values())
    assert f"'{formula}".replace('"', '""') in content.decode()
    assert fates(looked_at(shop, "values", content)) == ["unchanged"]


def test_a_model_that_came_in_goes_back_once_its_values_did(shop: Shop) -> None:
    models = moved_in(shop, "models", "maker,model,year_from,kind\nKestrigan,Plume,2021,fork\n")
    values = moved_in(shop, "values", HEADER + GOOD)
    taken_back(models)
    assert "spec values" in models.rows.get().said
    models = moved_in(shop, "models", "maker,model,year_from,kind\nKestrigan,Other,2021,fork\n")
    moved_in(shop, "values", HEADER + GOOD.replace("Plume", "Other"))
    other = SuspensionModel.objects.get(name="Other")
    taken_back(Sheet.objects.filter(kind="values").latest("pk"))
    taken_back(models)
    assert models.rows.get().outcome == "taken_back"
    assert not SuspensionModel.objects.filter(pk=other.pk).exists()
    assert values.rows.get().outcome == "imported"


def test_rows_are_looked_at_in_a_few_queries(shop: Shop) -> None:
    def queries(models: int) -> int:
        made = SuspensionModelFactory.create_batch(models, travels_mm=[100 + n for n in range(10)])
        for model in made:
            SpecValueFactory(model=model, quantity="axle_torque", typed="12 N·m", magnitude_si=12.0)
        lines = "".join(
            f"{model.maker},{model.name},{model.year_from},max_pressure,{travel_mm},100,psi,,Manual,,\n"
            for model in made
            for travel_mm in model.travels_mm
        )
        sheet = bring_in(shop=shop, kind=KINDS["values"], name="x", content=(HEADER + lines).encode(), by=None)
        with CaptureQueriesContext(connection) as asked:
            go_on(shop=shop, kind=KINDS["values"], pk=sheet.pk, seen=("looking", 0), by=None)
        assert set(fates(sheet)) == {"new"}
        return len(asked)

    assert queries(1) == queries(5)


def test_the_page_says_what_waits_and_a_version_that_was_taken_back(
    client: Client, shop: Shop, plume: SuspensionModel
) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    page = client.get(reverse("office:move_in", args=["values"])).text
    assert "foot_torque_air_leg" in page
    assert "Foot fastener, spring side" in page
    sheet = moved_in(shop, "values", HEADER + GOOD)
    page = squeezed(client.get(reverse("office:sheet", args=[sheet.pk])).text)
    assert "waits to be checked by a second person" in page
    assert reverse("office:specs_unchecked") in page
    taken_back(sheet)
    versions = reverse("office:specs_versions", args=[plume.pk, "foot_torque_air_leg"])
    assert "1, taken back" in squeezed(client.get(versions).text)
