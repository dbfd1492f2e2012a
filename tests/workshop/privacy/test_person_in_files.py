"""A person as CSV, and a person in sheets that were brought in."""

from __future__ import annotations

import csv
import io
import zipfile

import pytest

from tests.factories import CustomerFactory, ShopFactory
from tests.full_shop import full_shop
from tests.moving import imported, looked_at, moved_in, taken_back
from tests.workshop.test_files_to_take_away import is_formula
from workshop.models import Customer, OldNumber, Sheet, SheetChunk, SheetRow
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import write_export

pytestmark = pytest.mark.django_db


def test_a_person_is_exported_as_csv_too() -> None:
    shop = full_shop("Aldermoor")
    Customer.objects.filter(pk=shop.ticket.customer_id).update(notes="=1+1")
    shop.ticket.customer.refresh_from_db()
    out = io.BytesIO()
    write_export(shop.ticket.customer, out)
    with zipfile.ZipFile(out) as archive:
        tables = {
            name: list(csv.DictReader(io.StringIO(archive.read(name).decode("utf-8-sig"), newline="")))
            for name in archive.namelist()
            if name.endswith(".csv")
        }
    (person,) = tables["tables/customer.csv"]
    assert (person["name"], person["notes"]) == (shop.ticket.customer.name, "'=1+1")
    assert shop.ticket.number in [int(row["number"]) for row in tables["tables/tickets.csv"]]
    assert {row["ticket_number"] for row in tables["tables/tickets_parts.csv"]} >= {str(shop.ticket.number)}
    assert not [cell for rows in tables.values() for row in rows for cell in row.values() if is_formula(cell)]


def test_erasing_takes_a_person_out_of_the_sheets() -> None:
    shop = ShopFactory()
    CustomerFactory(shop=shop, name="Aäron Sample", phone="0555 090 909")
    rows = "1,Aäron Sample,0555 090 909,Old customer\n2,Runa Sample,0555 080 808,\n"
    done = moved_in(shop, "customers", "number,name,phone,notes\n" + rows)
    bikes = moved_in(shop, "bikes", "customer_number,description\n1,Green hardtail\n2,Red hardtail\n")
    waiting = looked_at(shop, "customers", "name,phone\nSomebody,1\nAÄRON SAMPLE,2\n")
    bad = imported(looked_at(shop, "customers", "name,email\nAäron Sample,no-address\nAda,\n"))
    erase_customer(customer=Customer.objects.get(name="Aäron Sample"), by=None)
    assert not Sheet.objects.filter(pk=waiting.pk).exists()
    left = [str(values) for values in (*SheetRow.objects.values(), *SheetChunk.objects.values())]
    assert not [text for text in left if "Aäron" in text or "090 909" in text or "Green hardtail" in text]
    assert any("Runa" in text for text in left)
    assert not OldNumber.objects.filter(thing="customer", number="1").exists()
    taken_back(bikes)
    taken_back(done)
    taken_back(bad)
    assert [customer.name for customer in Customer.objects.all()] == ["Erased"]
