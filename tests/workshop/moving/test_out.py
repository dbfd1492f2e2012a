"""Everything goes out as CSV, only the shop's own, described; and comes in again elsewhere as it was."""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from specs.models import KitLine, Part, ServiceKit, SpecValue, SuspensionModel
from tests.factories import (
    BikeFactory,
    CustomerFactory,
    FittingFactory,
    KitLineFactory,
    PartFactory,
    ServiceKitFactory,
    ShopFactory,
    SpecValueFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
)
from tests.full_shop import full_shop
from tests.moving import imported, looked_at
from tests.workshop.test_files_to_take_away import is_formula
from tests.workshop.test_shops_apart import WAY_TO_THE_SHOP
from workshop.models import (
    Bike,
    Customer,
    Fitting,
    OldNumber,
    PriceChange,
    Sheet,
    SheetChunk,
    SheetRow,
    Shop,
    StockItem,
    StockMovement,
    Supplier,
    SuspensionUnit,
)
from workshop.moving.kinds import KINDS
from workshop.moving.layout_files import LAYOUT_FILES
from workshop.moving.out import everything
from workshop.moving.tables import LEFT_OUT, file_of, rows_moved, tables

pytestmark = pytest.mark.django_db
Row = dict[str, str]


def taken_out(shop: Shop) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(b"".join(everything(shop)))) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def rows(content: bytes) -> list[Row]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_every_column_of_every_file_is_described() -> None:
    shop = full_shop("Aldermoor").shop
    files = taken_out(shop)
    told: dict[str, list[str]] = {}
    for row in rows(files.pop("description.csv")):
        told.setdefault(row["file"], []).append(row["column"])
        assert row["what it is"], row
        if row["points at"]:
            file, column = row["points at"].split(", ")
            assert column in next(csv.reader(io.StringIO(files[file].decode("utf-8-sig")))), row
    assert "description.csv says" in files.pop("read me.txt").decode()
    heads = {name: next(csv.reader(io.StringIO(content.decode("utf-8-sig")))) for name, content in files.items()}
    assert heads == told


def test_the_tables_hold_all_of_the_shop_and_nothing_of_another() -> None:
    ours = full_shop("Aldermoor")
    theirs = full_shop("Quillback", first_number=700, beside=ours)
    files = taken_out(ours.shop)
    assert not [name for name, content in files.items() if b"Quillback" in content]
    assert ours.secret not in "".join(content.decode() for content in files.values())
    named = {table.__name__: table for table in tables()}
    for name, way in WAY_TO_THE_SHOP.items():
        if name in LEFT_OUT:
            continue
        kept = set(named[name]._base_manager.filter(**{way: ours.shop}).values_list("pk", flat=True))
        assert set(rows_moved(named[name], ours.shop).values_list("pk", flat=True)) == kept, name
        assert len(rows(files[file_of(named[name])])) == len(kept), name
    assert theirs.shop.customers.exists()
    assert "password" not in rows(files["tables/workshop_user.csv"])[0]


def test_no_cell_that_goes_out_is_a_formula() -> None:
    shop = ShopFactory()
    CustomerFactory(shop=shop, name="=1+1", notes="@SUM(1)", address="-1 Lane\n=2", phone="+49 555 1")
    files = taken_out(shop)
    files.pop("read me.txt")
    cells = [
        cell
        for content in files.values()
        for row in csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=""))
        for cell in row
    ]
    assert not [cell for cell in cells if is_formula(cell)]
    assert "'=1+1" in cells


def test_it_is_asked_for_in_pieces_and_in_as_many_queries_however_much_there_is() -> None:
    def queries(customers: int) -> int:
        shop = ShopFactory()
        for _ in range(customers):
            unit = SuspensionUnitFactory(shop=shop, customer=CustomerFactory(shop=shop))
            FittingFactory(unit=unit, bike=BikeFactory(customer=unit.customer))
        with CaptureQueriesContext(connection) as asked:
            assert len(list(everything(shop))) > 1
        return len(asked)

    assert queries(2) == queries(12)


def test_the_owner_takes_everything_away_on_the_screen(client: Client) -> None:
    shop = full_shop("Aldermoor")
    client.force_login(shop.owner)
    assert reverse("office:move_out") in client.get(reverse("office:moving")).text
    answer = client.get(reverse("office:move_out"))
    assert (answer["Content-Type"], answer.streaming) == ("application/zip", True)
    with zipfile.ZipFile(io.BytesIO(answer.getvalue())) as archive:
        assert "customers.csv" in archive.namelist()


def lived_in() -> Shop:
    """A shop with what awkward files have: names twice, nobody's phone, cells that look like formulas, and bikes."""
    shop = ShopFactory()
    Supplier.objects.create(shop=shop, name="North", address="1 Dock\nHarbour", usual_days=4, account="=4711")
    wiper = PartFactory(
        number="Ö-35", role="wiper", stanchion_mm=35.0, size="35 mm stanchion", description="-Wiper; “35”"
    )
    item = StockItemFactory(shop=shop, part=wiper, price=Decimal("1.125"), cost=Decimal("0.99"), supplier="North")
    StockMovementFactory(item=item, quantity=Decimal(7))
    StockMovementFactory(item=StockItemFactory(shop=shop, part=PartFactory(measure="ml", role="oil")), quantity=150)
    PartFactory(number="LOOSE-1")
    agreed = dt.datetime(2024, 3, 1, tzinfo=dt.UTC)
    ilva = CustomerFactory(
        shop=shop, name="Ilva Sample", phone="+49 555 010101", other_phones="Work 0555 020202\n0555 030303",
        address="1 Lane\nTown", notes="=cmd()", rider_mass_kg=74.5, preferred_contact="email", language="Czech",
        agreed_to_reminders=True, agreed_to_reminders_at=agreed,
    )  # fmt: skip
    shares = CustomerFactory(shop=shop, name="Torben Sample", phone=ilva.phone, email="")
    alone = [CustomerFactory(shop=shop, name="Runa Sample", phone="", email="") for _ in range(2)]
    bikes = [
        BikeFactory(customer=ilva, description="Green hardtail", frame_number=""),
        BikeFactory(customer=ilva, description="Green hardtail", frame_number=""),
        BikeFactory(
            customer=alone[1], leverage=2.5, leverage_source="maker", leverage_at=agreed, notes="Squeaks, “a lot”"
        ),
    ]
    fork = SuspensionModelFactory(travels_mm=[130, 140])
    SpecValueFactory(model=fork, quantity="sag_low", typed="26 mm", magnitude_si=0.2, travel_mm=130)
    SpecValueFactory(model=fork, quantity="damper_oil", typed="=5 W", text="=5 W", magnitude_si=None)
    SpecValueFactory(
        model=fork, quantity="positive_volume", typed="940,5 ml", magnitude_si=940.5e-6, tolerance_si=1e-6 / 3
    )
    KitLineFactory(kit=ServiceKitFactory(model=fork), part=wiper, quantity=Decimal("1.5"), note="=two")
    for n, owner in enumerate((ilva, shares, *alone)):
        unit = SuspensionUnitFactory(shop=shop, customer=owner, model=fork, serial=f"SN-{n}", travel_m=0.14)
        if n == 0:
            FittingFactory(unit=unit, bike=bikes[1], since=dt.date(2023, 5, 6))
    words = SuspensionUnitFactory(
        shop=shop, customer=alone[1], model=None, kind="shock", described_as="Odd shock", serial="", gas_charge="True"
    )
    FittingFactory(unit=words, bike=bikes[2], since=dt.date(2022, 2, 2))
    return shop


def emptied() -> None:
    """Everything is gone, as in a database that was made anew."""
    for model in (
        SheetRow, SheetChunk, Sheet, OldNumber, Fitting, SuspensionUnit, Bike, Customer, StockMovement, PriceChange,
        StockItem, Supplier, KitLine, ServiceKit, Part, SpecValue, SuspensionModel,
    ):  # fmt: skip
        model._base_manager.all().delete()


def compared(shop: Shop) -> dict[str, list[Row]]:
    """The files that are read elsewhere, without the keys that every database gives anew."""
    files = taken_out(shop)
    found = {}
    for layout in LAYOUT_FILES:
        kept = [
            {name: cell for name, cell in row.items() if not (name.endswith("number") and layout.name in _WITH_KEYS)}
            for row in rows(files[layout.name])
        ]
        found[layout.name] = sorted(kept, key=lambda row: sorted(row.items()))
    return found


_WITH_KEYS = {"customers.csv", "bikes.csv", "units.csv"}


def test_what_was_moved_out_moves_into_an_empty_shop_and_is_equal() -> None:
    shop = lived_in()
    before, files = compared(shop), taken_out(shop)
    assert {name: len(found) for name, found in before.items()} == {
        "models.csv": 1, "kits.csv": 1, "values.csv": 3,
        "suppliers.csv": 1 + StockItem.objects.filter(shop=shop).exclude(supplier__in=["", "North"]).count(),
        "parts.csv": 3, "customers.csv": 4, "bikes.csv": 3, "units.csv": 5,
    }  # fmt: skip
    emptied()
    other = ShopFactory()
    for key in KINDS:
        sheet = imported(looked_at(other, key, files[f"{key}.csv"]), with_counts=True)
        assert sheet.state == "imported"
        refused = [(row.reason, row.said) for row in sheet.rows.exclude(outcome="imported")]
        assert not refused, key
    after = compared(other)
    for name, found in before.items():
        assert after[name] == found, name
    on = {unit.serial: str(unit.fittings.get().bike_id) for unit in other.units.filter(fittings__isnull=False)}
    assert Bike.objects.get(pk=on["SN-0"]).customer.name == "Ilva Sample"


def test_what_was_moved_out_changes_nothing_where_it_came_from() -> None:
    shop = lived_in()
    Customer.objects.filter(name="Runa Sample").update(phone="", email="")
    files = taken_out(shop)
    sheet = looked_at(shop, "suppliers", files["suppliers.csv"])
    assert {row.fate for row in sheet.rows.all()} == {"unchanged"}
    values = looked_at(shop, "values", files["values.csv"])
    assert [row.fate for row in values.rows.all()] == ["unchanged"] * 3
    parts = looked_at(shop, "parts", files["parts.csv"])
    assert {(row.fate, row.counts) for row in parts.rows.all()} == {("unchanged", False)}
