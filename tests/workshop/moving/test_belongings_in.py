"""Bikes, forks and shocks, and suppliers from a file."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.factories import (
    BikeFactory,
    CustomerFactory,
    ShopFactory,
    StockItemFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
)
from tests.known import known
from tests.moving import fates, imported, looked_at, moved_in, reasons, taken_back
from workshop.models import Bike, Customer, Shop, Supplier, SuspensionUnit
from workshop.moving.kinds import KINDS
from workshop.sheets.steps import bring_in, go_on, match_columns

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def ilva(shop: Shop) -> Customer:
    return CustomerFactory(shop=shop, name="Ilva Sample", phone="0555 010 101", email="ilva@example.org")


def test_bikes_find_their_owners_by_number_phone_email_or_name(shop: Shop) -> None:
    moved_in(
        shop, "customers", "number,name,phone,email\n1,Ilva Sample,0555 010 101,ilva@example.org\n2,Runa Sample,,\n"
    )
    content = (
        "number,customer_number,customer_phone,customer_email,customer_name,description,frame_number\n"
        "10,1,,,,Green hardtail,FR-1\n11,,+49 555 010101,,,Red hardtail,\n12,,,ILVA@example.org,,Blue,\n"
        "13,,,,runa sample,White,\n14,9,,,,Nobody’s,\n15,,,,,Whose,\n"
    )
    sheet = looked_at(shop, "bikes", content)
    assert fates(sheet) == ["new"] * 4 + ["refused"] * 2
    assert [reason.partition(":")[0] for reason in reasons(sheet)] == ["customer_number", "customer_name"]
    imported(sheet)
    assert sorted(Bike.objects.values_list("customer__name", "description")) == [
        ("Ilva Sample", "Blue"), ("Ilva Sample", "Green hardtail"), ("Ilva Sample", "Red hardtail"),
        ("Runa Sample", "White"),
    ]  # fmt: skip


def test_a_bike_is_the_same_by_its_frame_number_however_written(shop: Shop, ilva: Customer) -> None:
    BikeFactory(customer=ilva, description="Green hardtail", frame_number="FR-00 1")
    head = "customer_name,description,frame_number\n"
    (row,) = looked_at(shop, "bikes", head + "Ilva Sample,Green hardtail with bags,fr001\n").rows.all()
    assert (row.fate, row.changes[0]) == ("changed", ["description", "Green hardtail", "Green hardtail with bags"])
    assert fates(looked_at(shop, "bikes", head + "Ilva Sample,Green hardtail,FR-2\n")) == ["new"]


def test_a_row_that_is_in_the_file_before_names_its_line(shop: Shop, ilva: Customer) -> None:
    head, row = "customer_name,description\n", "Ilva Sample,Green\n"
    (reason,) = reasons(looked_at(shop, "bikes", head + row + row))
    assert "in line 2 too" in reason
    (reason,) = reasons(looked_at(shop, "suppliers", "name\nNorth\nnorth\n"))
    assert reason == "name: this supplier is in the file twice, the first time in line 2."


def test_bikes_are_taken_back_unless_used(shop: Shop, ilva: Customer) -> None:
    sheet = moved_in(shop, "bikes", "customer_name,description\nIlva Sample,Green\nIlva Sample,Red\n")
    TicketFactory(shop=shop, customer=ilva, bike=Bike.objects.get(description="Red"))
    taken_back(sheet)
    assert [row.outcome for row in sheet.rows.all()] == ["taken_back", "stays"]


UNITS = "number,customer_name,bike,fitted_on,kind,maker,model,year_from,described_as,serial,travel_mm,gas_charge\n"


def test_units_come_with_model_bike_and_facts(shop: Shop, ilva: Customer) -> None:
    bike = BikeFactory(customer=ilva, description="Green hardtail")
    model = SuspensionModelFactory(maker="Ostravane", name="Sluice", year_from=2021)
    rows = (
        "1,Ilva Sample,green hardtail,2024-05-06,,OSTRAVANE,sluice,2021,,SN-1,140,\n"
        '2,Ilva Sample,,,shock,Other,Weir,2020,,SN-2,"55,5",yes\n'
        "3,Ilva Sample,,,,,,,Odd fork,SN-3,,\n"
        "4,Ilva Sample,No such bike,,fork,,,,Odd fork,SN-4,,\n"
        "5,Ilva Sample,,,fork,,,,Odd fork,SN-5,900,\n"
        "6,Ilva Sample,,2999-01-01,fork,,,,Odd fork,SN-6,,\n"
        "7,Ilva Sample,,,fork,,,,,SN-7,,\n"
    )
    sheet = looked_at(shop, "units", UNITS + rows)
    assert fates(sheet) == ["new", "new"] + ["refused"] * 5
    assert [reason.partition(":")[0] for reason in reasons(sheet)] == [
        "kind", "bike", "travel_mm", "fitted_on", "described_as",
    ]  # fmt: skip
    imported(sheet)
    fork, shock = SuspensionUnit.objects.order_by("pk")
    assert (fork.model, fork.kind) == (model, "fork")
    assert known(fork.travel_m) == pytest.approx(0.14)
    assert [(on.bike, on.since) for on in fork.fittings.all()] == [(bike, dt.date(2024, 5, 6))]
    assert (shock.kind, shock.described_as, shock.gas_charge) == ("shock", "Other Weir 2020", "True")
    assert known(shock.travel_m) == pytest.approx(0.0555)


def test_a_serial_is_the_same_however_written_and_of_another_owner_is_said(shop: Shop, ilva: Customer) -> None:
    unit = SuspensionUnitFactory(shop=shop, customer=ilva, serial="SN-00 12")
    CustomerFactory(shop=shop, name="Runa Sample", phone="")
    rows = "1,Ilva Sample,,,,,,,,sn0012,150,\n2,Runa Sample,,,fork,,,,Odd fork,SN/0012,,\n"
    sheet = looked_at(shop, "units", UNITS + rows.replace("2,Runa", "3,Runa"))
    first, second = sheet.rows.all()
    assert (first.fate, first.before["pk"]) == ("changed", unit.pk)
    assert "of Ilva Sample has this serial" in second.reason


def test_units_are_taken_back_with_their_fitting_unless_used(shop: Shop, ilva: Customer) -> None:
    BikeFactory(customer=ilva, description="Green hardtail")
    there = SuspensionUnitFactory(shop=shop, customer=ilva, serial="SN-9", travel_m=0.12)
    rows = (
        "1,Ilva Sample,Green hardtail,2024-05-06,fork,,,,Odd fork,SN-1,,\n"
        "2,Ilva Sample,,,fork,,,,Odd fork,SN-2,,\n3,Ilva Sample,,,,,,,,SN-9,150,\n"
    )
    sheet = moved_in(shop, "units", UNITS + rows)
    used = SuspensionUnit.objects.get(serial="SN-2")
    TicketFactory(shop=shop, customer=ilva, unit=used)
    taken_back(sheet)
    assert [row.outcome for row in sheet.rows.all()] == ["taken_back", "stays", "taken_back"]
    there.refresh_from_db()
    assert known(there.travel_m) == pytest.approx(0.12)
    assert set(SuspensionUnit.objects.filter(shop=shop)) == {there, used}


def test_a_fitting_without_a_day_is_of_the_day_of_the_import(shop: Shop, ilva: Customer) -> None:
    BikeFactory(customer=ilva, description="Green hardtail")
    earliest = timezone.localdate()
    moved_in(shop, "units", UNITS + "1,Ilva Sample,Green hardtail,,fork,,,,Odd fork,SN-1,,\n")
    since = SuspensionUnit.objects.get().fittings.get().since
    assert earliest <= since <= timezone.localdate()


@pytest.mark.parametrize("kind", ["bikes", "units"])
def test_rows_are_looked_at_in_a_few_queries(shop: Shop, kind: str) -> None:
    def queries(rows: int) -> int:
        for n in range(rows):
            bike = BikeFactory(customer=CustomerFactory(shop=shop, name=f"Owner {rows}-{n}"), description="Green")
            SuspensionUnitFactory(shop=shop, customer=bike.customer, serial=f"S{rows}-{n}")
        lines = [f"Owner {rows}-{n},Red,fork,Odd,T{rows}-{n}" for n in range(rows)]
        heads = "customer_name,description,,,frame_number" if kind == "bikes" else (
            "customer_name,notes,kind,described_as,serial"
        )  # fmt: skip
        sheet = bring_in(shop=shop, kind=KINDS[kind], name="x", content="\n".join([heads, *lines]).encode(), by=None)
        if sheet.state == "matching":
            match_columns(shop=shop, kind=KINDS[kind], pk=sheet.pk, matching=sheet.matching, decimal_sign="")
        with CaptureQueriesContext(connection) as asked:
            go_on(shop=shop, kind=KINDS[kind], pk=sheet.pk, seen=("looking", 0), by=None)
        assert set(fates(sheet)) == {"new"}
        return len(asked)

    queries(2)  # the first search of a process asks whether this SQLite has trigrams
    assert queries(5) == queries(40)


def test_suppliers_come_in_and_go_back(shop: Shop) -> None:
    north = Supplier.objects.create(shop=shop, name="North", terms="30 days")
    content = "Lieferant;E-Mail;Lieferzeit;Currency\nnorth;orders@north.example;4;\nSouth;;900;\nEast;;;usd\nWest;;;\n"
    sheet = looked_at(shop, "suppliers", content)
    assert fates(sheet) == ["changed", "refused", "new", "new"]
    assert "usual_days" in reasons(sheet)[0]
    imported(sheet)
    north.refresh_from_db()
    assert (north.name, north.email, north.usual_days, north.terms) == ("North", "orders@north.example", 4, "30 days")
    assert Supplier.objects.get(name="East").currency == "USD"
    StockItemFactory(shop=shop, supplier="West")
    taken_back(sheet)
    north.refresh_from_db()
    assert (north.email, north.usual_days) == ("", None)
    assert set(Supplier.objects.filter(shop=shop).values_list("name", flat=True)) == {"North", "West"}
