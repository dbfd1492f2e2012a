"""Moving in on the screen: a file of another program is matched, looked at, imported and taken back."""

from __future__ import annotations

import csv
import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories import CustomerFactory, ShopFactory, StockItemFactory, UserFactory
from tests.moving import imported, looked_at, to_the_end
from tests.squeezed import squeezed
from workshop.models import Customer, Sheet, Shop
from workshop.moving.kinds import KINDS
from workshop.moving.layout_files import LAYOUT_FILES
from workshop.sheets.reading import read_table
from workshop.sheets.steps import bring_in, go_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


@pytest.fixture
def owner(client: Client, shop: Shop) -> Client:
    client.force_login(UserFactory(shop=shop, owner=True))
    return client


def sent(client: Client, kind: str, content: bytes, name: str = "old.csv") -> str:
    """The page of a sheet that was brought in."""
    answer = client.post(reverse("office:move_in", args=[kind]), {"file": SimpleUploadedFile(name, content)})
    assert answer.status_code == 302
    return str(answer["Location"])


def test_a_file_of_another_program_is_matched_and_comes_in(owner: Client, shop: Shop) -> None:
    content = "Kunde;Telefon;Gewicht;Farbe\nIlva Sämple;0555 010 101;74,5;rot\n".encode("cp1252")
    address = sent(owner, "customers", content)
    page = squeezed(owner.get(address).text)
    assert "Read as Windows-1252" in page
    assert "Ilva Sämple" in page
    assert "As other numbers of this file show." in page
    sheet = Sheet.objects.get()
    matched = {"column-0": "name", "column-1": "phone", "column-2": "rider_kg", "column-3": ""}
    twice = owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched | {"column-3": "name"})
    assert twice.status_code == 422
    assert "Two columns of the file are “name”" in twice.text
    without = owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched | {"column-0": ""})
    assert "No column of the file is “name”" in without.text
    answer = owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched | {"decimal_sign": ","})
    assert answer["Location"] == address
    sheet.refresh_from_db()
    to_the_end(sheet)
    assert "Import 1 row" in squeezed(owner.get(address).text)
    owner.post(reverse("office:match_sheet_anew", args=[sheet.pk]))
    assert "Columns of old.csv" in owner.get(address).text
    owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched | {"decimal_sign": ",", "column-3": "notes"})
    sheet.refresh_from_db()
    to_the_end(sheet)
    owner.post(reverse("office:begin_sheet", args=[sheet.pk]))
    sheet.refresh_from_db()
    to_the_end(sheet)
    one = Customer.objects.get()
    assert (one.name, one.rider_mass_kg, one.notes) == ("Ilva Sämple", 74.5, "rot")
    assert "Take the whole import back" in owner.get(address).text
    late = owner.post(reverse("office:match_sheet_anew", args=[sheet.pk]))
    assert late.status_code == 409
    owner.post(reverse("office:take_back_sheet", args=[sheet.pk]))
    sheet.refresh_from_db()
    to_the_end(sheet)
    assert not Customer.objects.exists()


def test_a_number_that_could_be_two_is_asked_about(owner: Client, shop: Shop) -> None:
    address = sent(owner, "parts", b"Artikelnummer;Bezeichnung;Preis\nW-1;Wiper;1.500\n")
    page = squeezed(owner.get(address).text)
    assert "“1.500” could be read in two ways" in page
    assert not re.search(r'name="decimal_sign"[^>]*checked', page)
    sheet = Sheet.objects.get()
    matched = {"column-0": "number", "column-1": "description", "column-2": "price"}
    unsaid = owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched)
    assert unsaid.status_code == 422
    assert "Say which it is" in unsaid.text
    for sign, price in ((".", "1.50"), (",", "1500.00")):
        owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched | {"decimal_sign": sign})
        sheet.refresh_from_db()
        (row,) = to_the_end(sheet).rows.all()
        assert ["price", "", price] in row.changes
        owner.post(reverse("office:match_sheet_anew", args=[sheet.pk]))
    owner.post(reverse("office:match_sheet", args=[sheet.pk]), matched | {"decimal_sign": "each"})
    sheet.refresh_from_db()
    assert to_the_end(sheet).rows.get().fate == "refused"


@pytest.mark.parametrize("kind", KINDS)
def test_each_sample_file_comes_in_as_it_is(owner: Client, shop: Shop, kind: str) -> None:
    """In the order of the page: a sample names what the samples before it brought."""
    for one in KINDS:
        sample = owner.get(reverse("office:move_in_sample", args=[one]))
        assert sample["Content-Type"].startswith("text/csv")
        assert read_table(sample.content, most_bytes=10_000, most_rows=10).heads == [c.name for c in KINDS[one].columns]
        sheet = looked_at(shop, one, sample.content)
        assert [(row.fate, row.reason) for row in sheet.rows.all()] == [("new", "")], one
        if one == kind:
            break
        owner.post(reverse("office:begin_sheet", args=[sheet.pk]))
        sheet.refresh_from_db()
        assert set(to_the_end(sheet).rows.values_list("outcome", flat=True)) == {"imported"}


@pytest.mark.parametrize("layout", LAYOUT_FILES, ids=lambda layout: layout.name)
def test_what_goes_out_has_the_heads_that_come_in(shop: Shop, layout: object) -> None:
    StockItemFactory(shop=shop)
    kind = layout.kind  # type: ignore[attr-defined]
    out = io.StringIO(newline="")
    csv.writer(out).writerows([[column.name for column in kind.columns], ["x"] * len(kind.columns)])
    assert looked_at(shop, kind.key, out.getvalue()).state == "looked"


@pytest.mark.parametrize(
    ("content", "reason"), [(b"", "empty"), (b"\xd0\xcf\x11\xe0", "old format"), (b"PK\x03\x04", "cannot be read")]
)
def test_a_file_that_cannot_be_read_says_why_beside_its_field(owner: Client, content: bytes, reason: str) -> None:
    answer = owner.post(reverse("office:move_in", args=["customers"]), {"file": SimpleUploadedFile("x.xlsx", content)})
    assert answer.status_code == 422
    assert reason in answer.text
    assert not Sheet.objects.exists()


def test_rows_are_shown_with_whom_they_are_and_by_their_fate(owner: Client, shop: Shop) -> None:
    CustomerFactory(shop=shop, name="Ilva Sample", phone="0555 010 101")
    content = "name,phone,email\nIlva Sample,0555/010101,\nTorben,,nowhere\nRuna,0555 020 202,\n"
    sheet = looked_at(shop, "customers", content)
    page = squeezed(owner.get(reverse("office:sheet", args=[sheet.pk])).text)
    assert "Same as Ilva Sample." in page
    assert page.index("Enter a valid email address") < page.index("Same as Ilva Sample.")
    only = squeezed(owner.get(reverse("office:sheet", args=[sheet.pk]), {"rows": "new"}).text)
    assert "Runa" in only
    assert "Torben" not in only


def test_a_page_of_rows_costs_the_same_however_many_there_are(owner: Client, shop: Shop) -> None:
    def queries(rows: int) -> int:
        sheet = looked_at(shop, "customers", "name\n" + "".join(f"Rider {rows} {n}\n" for n in range(rows)))
        with CaptureQueriesContext(connection) as asked:
            assert owner.get(reverse("office:sheet", args=[sheet.pk])).status_code == 200
        return len(asked)

    assert queries(3) == queries(120)


def test_another_kind_is_not_there(owner: Client) -> None:
    assert owner.get(reverse("office:move_in", args=["wishes"])).status_code == 404


def test_a_row_that_is_the_same_is_shown_and_brought_in_by_a_press(owner: Client, shop: Shop) -> None:
    content = "name,phone\nIlva Sample,0555 010 101\nTorben,0555010101\nRuna,0555 010101\n"
    sheet = looked_at(shop, "customers", content)
    address = reverse("office:sheet", args=[sheet.pk])
    page = squeezed(owner.get(address).text)
    assert "2 rows are the same as a row before" in page
    assert "Import 1 row, leave 2 that are the same out" in page
    assert "Same phone as line 2, so it is left out." in page
    say = reverse("office:say_of_sheet_rows", args=[sheet.pk])
    row = sheet.rows.all()[1]
    owner.post(say, {"row": row.pk, "others": "yes"})
    page = squeezed(owner.get(address).text)
    assert "Another customer than in line 2, as you said." in page
    assert "Import 2 rows, leave 1 that is the same out" in page
    owner.post(say, {"row": row.pk, "others": "no"})
    owner.post(say, {"all": "yes", "others": "yes"})
    assert "Import 3 rows" in squeezed(owner.get(address).text)
    owner.post(reverse("office:begin_sheet", args=[sheet.pk]))
    sheet.refresh_from_db()
    to_the_end(sheet)
    assert Customer.objects.count() == 3
    assert owner.post(say, {"row": row.pk, "others": "no"}).status_code == 409


PARTS = "number,description,role,price,counted\nW-1,Wiper,wiper,9.50,{}\n"


def test_parts_without_their_counts_say_so_at_the_end_and_where_to_book_them(owner: Client, shop: Shop) -> None:
    def page_after(count: str, *, with_counts: bool) -> str:
        sheet = imported(looked_at(shop, "parts", PARTS.format(count)), with_counts=with_counts)
        return squeezed(owner.get(reverse("office:sheet", args=[sheet.pk])).text)

    page = page_after("7", with_counts=False)
    assert "No counts were booked" in page
    assert "1 row of the file has a count that is not what the stores show." in page
    assert reverse("stores:stock_takes") in page
    assert "No counts were booked" not in page_after("7", with_counts=True)
    assert "The file has no count that differs" in page_after("", with_counts=False)


def test_a_file_that_is_too_long_is_refused_with_its_rows_and_what_to_do(
    owner: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    kind = KINDS["customers"]
    monkeypatch.setattr(kind, "most_rows", 1000)
    content = b"name\n" + b"".join(b"Rider %d\n" % n for n in range(1001))
    address = reverse("office:move_in", args=["customers"])
    answer = owner.post(address, {"file": SimpleUploadedFile("x.csv", content)})
    assert "The file has 1,001 rows; at most 1,000 at once. None of it was read" in answer.text
    monkeypatch.setattr(kind, "most_bytes", 1024)
    answer = owner.post(address, {"file": SimpleUploadedFile("x.csv", content)})
    assert "and 1,002 lines" in answer.text
    assert not Sheet.objects.exists()


def test_a_pass_that_waits_half_way_says_how_far_it_is(owner: Client, shop: Shop) -> None:
    content = "name\n" + "".join(f"Rider {n}\n" for n in range(1200))
    sheet = bring_in(shop=shop, kind=KINDS["customers"], name="x.csv", content=content.encode(), by=None)
    go_on(shop=shop, kind=KINDS["customers"], pk=sheet.pk, seen=("looking", 0), by=None)
    assert "500 of 1200 rows looked at." in squeezed(owner.get(reverse("office:sheet", args=[sheet.pk])).text)
    assert "500 of 1200 rows: open it to go on" in squeezed(owner.get(reverse("office:moving")).text)
    early = owner.post(reverse("office:begin_sheet", args=[sheet.pk]))
    assert early.status_code == 409
