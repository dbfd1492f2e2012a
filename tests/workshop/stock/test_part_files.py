"""Parts and stock as CSV: what goes out comes in unchanged, a dry run writes nothing, a bad row says why."""

from __future__ import annotations

import base64
import csv
import io
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from specs.models import Part
from specs.value_files import UnreadableFile
from tests.factories import PartFactory, ShopFactory, StockItemFactory, StockMovementFactory, UserFactory
from tests.squeezed import squeezed
from workshop.models import Shop, StockItem, StockMovement
from workshop.stock.moving import level_of, receive, write_off
from workshop.stock.part_files import COLUMNS, PartPlanChanged, export_parts, import_parts, plan_parts

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def sheet(*rows: dict[str, str], columns: tuple[str, ...] = COLUMNS) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


WIPER = {
    "number": "W-35", "description": "Wiper, 35 mm", "role": "wiper", "measure": "piece", "stanchion_mm": "35",
    "price": "11.50", "cost": "6,90", "supplier": "North", "lead_days": "4", "shelf": "B2", "reorder_level": "2",
    "counted": "9",
}  # fmt: skip


def test_a_dry_run_writes_nothing_and_the_import_does_what_it_showed(shop: Shop) -> None:
    content = sheet(WIPER, {"number": "O-1", "description": "Odd circlip"})
    plan = plan_parts(shop=shop, content=content, by=None)
    assert [row.fate for row in plan.rows] == ["new", "new"]
    assert not Part.objects.exists()
    import_parts(shop=shop, content=content, digest=plan.digest, by=None, with_counts=True)
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
    content = export_parts(shop)
    assert b"'=1+1" in content
    plan = plan_parts(shop=shop, content=content, by=None)
    assert [row.fate for row in plan.rows] == ["unchanged", "unchanged"]


def test_an_empty_cell_changes_nothing(shop: Shop) -> None:
    item = StockItemFactory(shop=shop)
    content = sheet({"number": item.part.number, "description": item.part.description, "shelf": "Z9"})
    plan = plan_parts(shop=shop, content=content, by=None)
    import_parts(shop=shop, content=content, digest=plan.digest, by=None)
    before = item.price
    item.refresh_from_db()
    assert (item.shelf, item.price, [row.fate for row in plan.rows]) == ("Z9", before, ["changed"])


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
    ],
)
def test_a_bad_row_names_its_column_and_the_rest_comes_in(shop: Shop, changes: dict[str, str], reason: str) -> None:
    content = sheet(WIPER | changes, {"number": "O-1", "description": "Odd circlip"})
    plan = plan_parts(shop=shop, content=content, by=None)
    assert [row.fate for row in plan.rows] == ["refused", "new"]
    assert reason in plan.rows[0].reason
    assert plan.rows[0].row.where == "line 2"
    import_parts(shop=shop, content=content, digest=plan.digest, by=None)
    assert [part.number for part in Part.objects.all()] == ["O-1"]
    assert not StockItem.objects.exists()


def test_a_part_twice_in_a_file_is_refused_the_second_time(shop: Shop) -> None:
    plan = plan_parts(shop=shop, content=sheet(WIPER, WIPER | {"number": "w-35"}), by=None)
    assert [row.fate for row in plan.rows] == ["new", "refused"]


def test_what_changed_after_the_dry_run_is_shown_again(shop: Shop) -> None:
    content = sheet(WIPER)
    digest = plan_parts(shop=shop, content=content, by=None).digest
    PartFactory(number="W-35")
    with pytest.raises(PartPlanChanged) as changed:
        import_parts(shop=shop, content=content, digest=digest, by=None)
    assert changed.value.plan.rows[0].fate == "changed"
    assert not StockItem.objects.exists()


@pytest.mark.parametrize(
    ("content", "reason"),
    [(b"", "empty"), (b"number,colour\n1,red\n", "no column description"), (b"\xff\xfe", "not UTF-8")],
)
def test_a_file_that_cannot_be_read_says_why(shop: Shop, content: bytes, reason: str) -> None:
    with pytest.raises(UnreadableFile, match=reason):
        plan_parts(shop=shop, content=content, by=None)


def test_the_owner_imports_on_the_screen(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    content = sheet(WIPER)
    answer = client.post(reverse("stores:import_parts"), {"file": SimpleUploadedFile("parts.csv", content)})
    assert "Import 1 part" in squeezed(answer.content.decode())
    digest = plan_parts(shop=shop, content=content, by=None).digest
    data = {"content": base64.b64encode(content).decode(), "digest": digest}
    assert client.post(reverse("stores:confirm_parts"), data).status_code == 302
    item = StockItem.objects.get()
    receive(item=item, quantity=Decimal(1), by=None)
    assert client.post(reverse("stores:confirm_parts"), data).status_code == 409
    assert client.get(reverse("stores:export_parts")).content.startswith(b"\xef\xbb\xbfnumber,")
    bad = client.post(reverse("stores:import_parts"), {"file": SimpleUploadedFile("parts.csv", b"a,b\n1,2\n")})
    assert bad.status_code == 422


def test_a_price_rise_by_file_moves_no_stock(shop: Shop) -> None:
    """The file is exported, parts are used, and it comes back with other prices."""
    item = StockMovementFactory(item=StockItemFactory(shop=shop, price=Decimal("11.50")), quantity=10).item
    content = export_parts(shop)
    (row,) = csv.DictReader(io.StringIO(content.decode("utf-8-sig")))
    assert row["counted"] == ""
    write_off(item=item, quantity=Decimal(4), by=None, note="Used up")
    content = content.replace(b"11.50", b"12.00")
    plan = plan_parts(shop=shop, content=content, by=None)
    import_parts(shop=shop, content=content, digest=plan.digest, by=None, with_counts=True)
    item.refresh_from_db()
    assert (item.price, level_of(item), StockMovement.objects.count()) == (Decimal("12.00"), Decimal(6), 2)


def test_the_dry_run_shows_old_and_new_of_every_field(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    item = StockItemFactory(shop=shop, price=Decimal("11.50"), shelf="B2", part__description="Wiper, 36 mm")
    content = sheet({"number": item.part.number, "description": "Wiper", "price": "12", "shelf": "Z9"})
    (fate,) = plan_parts(shop=shop, content=content, by=None).rows
    assert [(change.column, change.old, change.new) for change in fate.changes] == [
        ("description", "Wiper, 36 mm", "Wiper"),
        ("price", "11.50", "12.00"),
        ("shelf", "B2", "Z9"),
    ]
    page = client.post(reverse("stores:import_parts"), {"file": SimpleUploadedFile("p.csv", content)}).text
    assert "<code>price</code>11.50 becomes 12.00" in squeezed(page)
    assert 'name="counts"' not in page


@pytest.mark.parametrize(("ticked", "level", "said"), [("", 6, "no stock moved"), ("yes", 9, "1 count booked")])
def test_counts_are_asked_apart(client: Client, shop: Shop, ticked: str, level: int, said: str) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    item = StockMovementFactory(item=StockItemFactory(shop=shop), quantity=6).item
    content = sheet({"number": item.part.number, "description": item.part.description, "counted": "9"})
    page = client.post(reverse("stores:import_parts"), {"file": SimpleUploadedFile("p.csv", content)}).text
    assert 'name="counts" value="yes">' in page
    assert 'data-label="The stores show">6.00</td><td class="number" data-label="The file says">9.00' in squeezed(page)
    digest = plan_parts(shop=shop, content=content, by=None).digest
    data = {"content": base64.b64encode(content).decode(), "digest": digest, "counts": ticked}
    answer = client.post(reverse("stores:confirm_parts"), data, follow=True)
    assert said in answer.text
    assert level_of(item) == level


def test_a_count_is_shown_again_where_stock_moved_after_the_dry_run(shop: Shop) -> None:
    item = StockMovementFactory(item=StockItemFactory(shop=shop), quantity=6).item
    content = sheet({"number": item.part.number, "description": item.part.description, "counted": "9"})
    digest = plan_parts(shop=shop, content=content, by=None).digest
    receive(item=item, quantity=Decimal(1), by=None)
    with pytest.raises(PartPlanChanged):
        import_parts(shop=shop, content=content, digest=digest, by=None, with_counts=True)
    assert level_of(item) == 7


def test_a_cell_with_a_number_that_could_be_two_is_refused_with_both(shop: Shop) -> None:
    (fate,) = plan_parts(shop=shop, content=sheet(WIPER | {"counted": "1.400"}), by=None).rows
    assert (fate.fate, fate.reason) == ("refused", "counted: “1.400” could be 1.4 or 1400. Enter 1.4 or 1400.")
    (fate,) = plan_parts(shop=shop, content=sheet(WIPER | {"price": "1.200,50"}), by=None).rows
    assert fate.fate == "new"
