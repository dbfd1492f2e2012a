"""Parts and stock as CSV: what goes out comes in unchanged, looking writes nothing, all of it can go back."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from specs.models import KitLine, Part
from specs.value_files import UnreadableFile
from tests.factories import (
    PartFactory,
    ServiceKitFactory,
    ShopFactory,
    StockItemFactory,
    StockMovementFactory,
    UserFactory,
)
from tests.squeezed import squeezed
from workshop.models import PriceChange, Sheet, SheetRow, Shop, StockItem, StockMovement
from workshop.sheets import steps
from workshop.sheets.steps import (
    MatchingRefused,
    SheetNotReady,
    begin_import,
    begin_taking_back,
    bring_in,
    go_on,
    match_columns,
    stop_sheet,
    throw_away,
)
from workshop.stock.moving import level_of, receive, write_off
from workshop.stock.part_files import COLUMNS, export_parts
from workshop.stock.part_sheet import PartSheet

pytestmark = pytest.mark.django_db
PARTS = PartSheet()


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def sheet(*rows: dict[str, str], columns: tuple[str, ...] = COLUMNS) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def to_the_end(shop: Shop, brought: Sheet) -> Sheet:
    """The pass that is under way, step by step, as its page does it."""
    while brought.is_running:
        brought = go_on(shop=shop, kind=PARTS, pk=brought.pk, seen=(brought.state, brought.handled), by=None)
    return brought


def looked_at(shop: Shop, content: bytes) -> Sheet:
    return to_the_end(shop, bring_in(shop=shop, kind=PARTS, name="parts.csv", content=content, by=None))


def imported(shop: Shop, brought: Sheet, *, with_counts: bool = False) -> Sheet:
    return to_the_end(shop, begin_import(shop=shop, kind=PARTS, pk=brought.pk, by=None, with_counts=with_counts))


def taken_back(shop: Shop, brought: Sheet) -> Sheet:
    return to_the_end(shop, begin_taking_back(shop=shop, kind=PARTS, pk=brought.pk))


def fates(brought: Sheet) -> list[str]:
    return [row.fate for row in brought.rows.all()]


def standing(shop: Shop) -> list[list[str]]:
    """All that a file says of the shop's parts, and what is there of each."""
    rows = list(csv.reader(io.StringIO(b"".join(export_parts(shop)).decode("utf-8-sig"))))
    levels = {item.part.number: str(level_of(item)) for item in StockItem.objects.filter(shop=shop)}
    return [[*row, levels.get(row[0], "")] for row in rows]


WIPER = {
    "number": "W-35", "description": "Wiper, 35 mm", "role": "wiper", "measure": "piece", "stanchion_mm": "35",
    "price": "11.50", "cost": "6,90", "supplier": "North", "lead_days": "4", "shelf": "B2", "reorder_level": "2",
    "counted": "9",
}  # fmt: skip


def test_looking_writes_nothing_and_the_import_does_what_was_shown(shop: Shop) -> None:
    brought = looked_at(shop, sheet(WIPER, {"number": "O-1", "description": "Odd circlip"}))
    assert fates(brought) == ["new", "new"]
    assert not Part.objects.exists()
    assert imported(shop, brought, with_counts=True).state == "imported"
    item = StockItem.objects.get()
    assert (item.price, item.cost, item.supplier, item.lead_days) == (Decimal("11.50"), Decimal("6.90"), "North", 4)
    assert (level_of(item), item.part.size, StockMovement.objects.get().kind) == (
        Decimal(9),
        "35 mm stanchion",
        "counted",
    )
    assert Part.objects.count() == 2


def test_what_was_exported_comes_in_unchanged(shop: Shop) -> None:
    StockMovementFactory(item=StockItemFactory(shop=shop, part=PartFactory(description="=1+1", size="-3")))
    PartFactory(measure="ml", role="oil", bottle_ml=Decimal(500), size="500 ml bottle")
    Part.objects.filter(pk=PartFactory(role="bushing", inside_mm=36.0, section_mm=1.0).pk).update(size="")
    StockItemFactory(shop=shop, price=Decimal("1.125"), part=PartFactory(measure="ml", role="oil"))
    content = b"".join(export_parts(shop))
    assert b"'=1+1" in content
    assert fates(looked_at(shop, content)) == ["unchanged"] * 4


def test_a_number_with_letters_of_another_language_is_the_same_part(shop: Shop) -> None:
    for number in ("Ö-5", "Maß-1"):
        StockItemFactory(shop=shop, shelf="A1", part=PartFactory(number=number))
    content = b"".join(export_parts(shop))
    assert fates(looked_at(shop, content)) == ["unchanged"] * 2
    brought = imported(shop, looked_at(shop, content.replace(b"A1", b"B1")))
    assert {row.outcome for row in brought.rows.all()} == {"imported"}
    assert set(StockItem.objects.values_list("shelf", flat=True)) == {"B1"}


def test_an_empty_cell_changes_nothing(shop: Shop) -> None:
    item = StockItemFactory(shop=shop)
    brought = looked_at(shop, sheet({"number": item.part.number, "description": item.part.description, "shelf": "Z9"}))
    imported(shop, brought)
    before = item.price
    item.refresh_from_db()
    assert (item.shelf, item.price, fates(brought)) == ("Z9", before, ["changed"])


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"counted": "-3"}, "counted: “-3” is not from 0"),
        ({"price": "dear"}, "price: “dear” is no number"),
        ({"price": ""}, "price: A part that is to be kept needs a price"),
        ({"lead_days": "-3"}, "lead_days: “-3” is not from 0"),
        ({"lead_days": "1.5"}, "lead_days: Days are whole"),
        ({"measure": "cups"}, "measure: “cups” is no unit here. Parts are counted in piece or ml."),
        ({"role": "doorbell"}, "role: "),
        ({"bottle_ml": "500"}, "bottle_ml: Only what is measured in ml"),
        ({"description": ""}, "description: This cell is empty"),
        ({"price": "1.400"}, "price: “1.400” could be 1.4 or 1400. Enter 1.4 or 1400."),
        ({"counted": "1.400"}, "counted: “1.400” could be 1.4 or 1400. Enter 1.4 or 1400."),
    ],
)
def test_a_bad_row_names_its_column_and_the_rest_comes_in(shop: Shop, changes: dict[str, str], reason: str) -> None:
    brought = looked_at(shop, sheet(WIPER | changes, {"number": "O-1", "description": "Odd circlip"}))
    assert fates(brought) == ["refused", "new"]
    refused = brought.rows.all()[0]
    assert reason in refused.reason
    assert refused.place == 2
    imported(shop, brought)
    assert [part.number for part in Part.objects.all()] == ["O-1"]
    assert not StockItem.objects.exists()


def test_a_number_with_two_signs_is_plain(shop: Shop) -> None:
    assert fates(looked_at(shop, sheet(WIPER | {"price": "1.200,50"}))) == ["new"]


def test_a_part_twice_in_a_file_is_refused_the_second_time(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    assert fates(looked_at(shop, sheet(WIPER, WIPER | {"number": "w-35"}))) == ["new", "refused"]
    monkeypatch.setattr(steps, "ROWS_READ_AT_ONCE", 1)
    assert fates(looked_at(shop, sheet(WIPER, WIPER | {"number": "w-35"}))) == ["new", "refused"]


def test_what_changed_after_it_was_shown_is_left_out_and_the_rest_comes_in(shop: Shop) -> None:
    brought = looked_at(shop, sheet(WIPER, {"number": "O-1", "description": "Odd circlip"}))
    PartFactory(number="W-35", description="Somebody's wiper")
    imported(shop, brought)
    left_out, done = brought.rows.all()
    assert (left_out.outcome, done.outcome) == ("left_out", "imported")
    assert "changed after you looked at it" in left_out.said
    assert Part.objects.get(number="W-35").description == "Somebody's wiper"
    assert not StockItem.objects.exists()


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (b"", "empty"),
        (b"\xff\xfe", "empty"),
        (b"number,description\nA-1,\x00\n", "neither a text file nor a workbook"),
        (b"number,description\n", "no rows"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(shop: Shop, content: bytes, reason: str) -> None:
    with pytest.raises(UnreadableFile, match=reason):
        bring_in(shop=shop, kind=PARTS, name="x.csv", content=content, by=None)
    assert not Sheet.objects.exists()


def test_the_columns_of_another_layout_are_matched_first(shop: Shop) -> None:
    brought = bring_in(shop=shop, kind=PARTS, name="x.csv", content=b"Number;Colour\n1;red\n", by=None)
    assert (brought.state, brought.matching) == ("matching", ["number", ""])
    with pytest.raises(MatchingRefused, match="No column of the file is “description”"):
        match_columns(shop=shop, kind=PARTS, pk=brought.pk, matching=["number", ""], decimal_sign="")
    match_columns(shop=shop, kind=PARTS, pk=brought.pk, matching=["number", "description"], decimal_sign="")
    brought.refresh_from_db()
    assert fates(to_the_end(shop, brought)) == ["new"]


def test_a_file_of_too_many_rows_says_so(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(PARTS, "most_rows", 1)
    with pytest.raises(UnreadableFile, match="2 rows; at most 1 at once"):
        bring_in(shop=shop, kind=PARTS, name="x.csv", content=sheet(WIPER, WIPER), by=None)


def test_a_price_rise_by_file_moves_no_stock(shop: Shop) -> None:
    """The file is exported, parts are used, and it comes back with other prices."""
    item = StockMovementFactory(item=StockItemFactory(shop=shop, price=Decimal("11.50")), quantity=10).item
    content = b"".join(export_parts(shop))
    (row,) = csv.DictReader(io.StringIO(content.decode("utf-8-sig")))
    assert row["counted"] == ""
    write_off(item=item, quantity=Decimal(4), by=None, note="Used up")
    imported(shop, looked_at(shop, content.replace(b"11.50", b"12.00")), with_counts=True)
    item.refresh_from_db()
    assert (item.price, level_of(item), StockMovement.objects.count()) == (Decimal("12.00"), Decimal(6), 2)


def test_old_and_new_of_every_field_are_shown(shop: Shop) -> None:
    item = StockItemFactory(shop=shop, price=Decimal("11.50"), shelf="B2", part__description="Wiper, 36 mm")
    content = sheet({"number": item.part.number, "description": "Wiper", "price": "12", "shelf": "Z9"})
    (row,) = looked_at(shop, content).rows.all()
    assert row.changes == [["description", "Wiper, 36 mm", "Wiper"], ["price", "11.50", "12.00"], ["shelf", "B2", "Z9"]]


@pytest.mark.parametrize(("with_counts", "level"), [(False, 6), (True, 9)])
def test_counts_are_asked_apart(shop: Shop, with_counts: bool, level: int) -> None:
    item = StockMovementFactory(item=StockItemFactory(shop=shop), quantity=6).item
    brought = looked_at(shop, sheet({"number": item.part.number, "description": item.part.description, "counted": "9"}))
    (row,) = brought.rows.all()
    assert (row.fate, row.counts, row.count) == ("unchanged", True, ["6.00", "9.00"])
    imported(shop, brought, with_counts=with_counts)
    assert level_of(item) == level


def test_a_count_is_not_booked_where_stock_moved_after_it_was_shown(shop: Shop) -> None:
    item = StockMovementFactory(item=StockItemFactory(shop=shop), quantity=6).item
    brought = looked_at(shop, sheet({"number": item.part.number, "description": item.part.description, "counted": "9"}))
    receive(item=item, quantity=Decimal(1), by=None)
    imported(shop, brought, with_counts=True)
    assert level_of(item) == 7
    assert "Its level is 7.00 now" in brought.rows.get().said


def filled(shop: Shop) -> tuple[StockItem, bytes]:
    """A part that is kept, with six of it; and a sheet with other terms and a count for it, and a new part."""
    part = PartFactory(number="C-1", description="Circlip", inside_mm=None)
    item = StockMovementFactory(
        item=StockItemFactory(shop=shop, part=part, price=Decimal("0.0149"), shelf="B2"), quantity=6
    ).item
    changed = {"number": "c-1", "description": "Circlip, 30 mm", "price": "2", "shelf": "Z9", "counted": "8"}
    return item, sheet(WIPER, changed)


def test_an_import_is_taken_back_whole(shop: Shop) -> None:
    item, content = filled(shop)
    before = standing(shop)
    brought = imported(shop, looked_at(shop, content), with_counts=True)
    assert standing(shop) != before
    assert taken_back(shop, brought).state == "taken_back"
    assert standing(shop) == before
    assert {row.outcome for row in brought.rows.all()} == {"taken_back"}
    # What moved is countered, never struck out: six came, two were counted, and that was taken back.
    assert [(moved.item_id, int(moved.quantity)) for moved in StockMovement.objects.all()] == [
        (item.pk, 6), (item.pk, 2), (item.pk, -2),
    ]  # fmt: skip
    assert list(PriceChange.objects.values_list("old", "new")) == [
        (Decimal("0.0149"), Decimal(2)), (Decimal(2), Decimal("0.0149")),
    ]  # fmt: skip


def test_what_somebody_changed_or_used_since_stays_and_is_named(shop: Shop) -> None:
    item, content = filled(shop)
    brought = imported(shop, looked_at(shop, content), with_counts=True)
    wiper = StockItem.objects.get(part__number="W-35")
    write_off(item=wiper, quantity=Decimal(1), by=None, note="Torn")
    StockItem.objects.filter(pk=item.pk).update(shelf="A1")
    taken_back(shop, brought)
    new, changed = brought.rows.all()
    assert (new.outcome, changed.outcome) == ("stays", "stays")
    assert "its place in the stores, which is in use, its count, as less is there now" in new.said
    assert changed.said == "Changed or used since, so it stays: shelf."
    item.refresh_from_db()
    assert (item.price, item.shelf, item.part.description) == (Decimal("0.0149"), "A1", "Circlip")


def test_a_new_part_that_went_into_a_kit_stays(shop: Shop) -> None:
    brought = imported(shop, looked_at(shop, sheet({"number": "O-1", "description": "Odd circlip"})))
    KitLine.objects.create(kit=ServiceKitFactory(), part=Part.objects.get(number="O-1"), quantity=1)
    taken_back(shop, brought)
    row = brought.rows.get()
    assert (row.outcome, Part.objects.filter(number="O-1").exists()) == ("stays", True)
    assert "1 kit" in row.said


def test_an_import_stops_between_steps_goes_on_and_counts_nothing_twice(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(steps, "ROWS_WRITTEN_AT_ONCE", 2)
    rows = [WIPER | {"number": f"W-{number}"} for number in range(5)]
    brought = looked_at(shop, sheet(*rows))
    brought = begin_import(shop=shop, kind=PARTS, pk=brought.pk, by=None, with_counts=True)
    at_first = (brought.state, brought.handled)
    go_on(shop=shop, kind=PARTS, pk=brought.pk, seen=at_first, by=None)
    go_on(shop=shop, kind=PARTS, pk=brought.pk, seen=at_first, by=None)  # a second page asks for the same step
    assert Part.objects.count() == 2
    stop_sheet(shop=shop, kind=PARTS, pk=brought.pk)
    stopped = go_on(shop=shop, kind=PARTS, pk=brought.pk, seen=("importing", 2), by=None)
    assert (stopped.state, Part.objects.count()) == ("stopped", 2)
    assert imported(shop, stopped).state == "imported"
    assert (Part.objects.count(), StockMovement.objects.count()) == (5, 5)
    with pytest.raises(SheetNotReady, match="imported"):
        begin_import(shop=shop, kind=PARTS, pk=brought.pk, by=None, with_counts=True)
    taken_back(shop, brought)
    assert not Part.objects.exists()


def test_what_stopped_half_way_is_taken_back(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steps, "ROWS_WRITTEN_AT_ONCE", 2)
    brought = looked_at(shop, sheet(*[WIPER | {"number": f"W-{number}"} for number in range(5)]))
    begun = begin_import(shop=shop, kind=PARTS, pk=brought.pk, by=None, with_counts=False)
    go_on(shop=shop, kind=PARTS, pk=begun.pk, seen=("importing", 0), by=None)
    stop_sheet(shop=shop, kind=PARTS, pk=begun.pk)
    assert taken_back(shop, brought).state == "taken_back"
    assert not Part.objects.exists()
    assert sorted(brought.rows.values_list("outcome", flat=True)) == ["", "", "", "taken_back", "taken_back"]


def test_a_sheet_is_thrown_away_only_while_nothing_of_it_was_imported(shop: Shop) -> None:
    throw_away(shop=shop, kind=PARTS, pk=looked_at(shop, sheet(WIPER)).pk)
    assert not SheetRow.objects.exists()
    done = imported(shop, looked_at(shop, sheet(WIPER)))
    with pytest.raises(SheetNotReady, match="stays in the list"):
        throw_away(shop=shop, kind=PARTS, pk=done.pk)


def test_rows_that_change_nothing_are_read_in_bulk(shop: Shop) -> None:
    def queries(rows: int) -> int:
        for number in range(rows):
            StockItemFactory(shop=shop, part=PartFactory(number=f"{rows}-{number}"))
        brought = bring_in(shop=shop, kind=PARTS, name="x", content=b"".join(export_parts(shop)), by=None)
        with CaptureQueriesContext(connection) as asked:
            after = go_on(shop=shop, kind=PARTS, pk=brought.pk, seen=("looking", 0), by=None)
        assert (after.state, set(fates(after))) == ("looked", {"unchanged"})
        return len(asked)

    assert queries(3) == queries(30)


def test_a_step_tries_a_few_rows_only(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steps, "ROWS_WRITTEN_AT_ONCE", 2)
    rows = [WIPER | {"number": f"W-{number}"} for number in range(5)]
    brought = bring_in(shop=shop, kind=PARTS, name="x", content=sheet(*rows), by=None)
    handled = []
    while brought.is_running:
        brought = go_on(shop=shop, kind=PARTS, pk=brought.pk, seen=("looking", brought.handled), by=None)
        handled.append(brought.handled)
    assert handled == [2, 4, 5]
    assert fates(brought) == ["new"] * 5


def test_what_needs_eyes_stands_first(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    brought = looked_at(shop, sheet({"number": "O-1", "description": "Odd circlip"}, WIPER | {"price": "dear"}))
    page = client.get(reverse("office:sheet", args=[brought.pk])).text
    assert page.index("“dear” is no number") < page.index("Odd circlip")


def test_the_owner_imports_on_the_screen(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    sent = {"file": SimpleUploadedFile("parts.csv", sheet(WIPER))}
    answer = client.post(reverse("stores:import_parts"), sent)
    pk = Sheet.objects.get().pk
    assert answer["Location"] == reverse("office:sheet", args=[pk])
    page = client.get(answer["Location"]).text
    assert "Being looked at" in page
    step = {"state": "looking", "handled": "0"}
    over = client.post(reverse("office:go_on_with_sheet", args=[pk]), step, headers={"HX-Request": "true"})
    assert over["HX-Refresh"] == "true"
    page = client.get(answer["Location"]).text
    assert "Import 1 row" in squeezed(page)
    assert 'data-label="The stores show">0.00</td><td class="number" data-label="The file says">9.00' in squeezed(page)
    client.post(reverse("office:begin_sheet", args=[pk]), {"counts": "yes"})
    client.post(reverse("office:go_on_with_sheet", args=[pk]), {"state": "importing", "handled": "0"})
    assert level_of(StockItem.objects.get()) == 9
    page = client.get(answer["Location"]).text
    assert "1 row imported" in squeezed(page)
    assert "Take it back" in page
    again = client.post(reverse("office:begin_sheet", args=[pk]))
    assert again.status_code == 409
    assert "cannot be imported now" in again.text
    client.post(reverse("office:take_back_sheet", args=[pk]))
    client.post(reverse("office:go_on_with_sheet", args=[pk]), {"state": "taking_back", "handled": "0"})
    assert not Part.objects.exists()
    assert client.get(reverse("stores:export_parts")).getvalue().startswith(b"\xef\xbb\xbfnumber,")
    bad = client.post(reverse("stores:import_parts"), {"file": SimpleUploadedFile("parts.csv", b"number\n")})
    assert bad.status_code == 422
