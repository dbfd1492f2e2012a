"""Customers from a file: who is new, who is known already, what is refused, and all of it taken back."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.factories import BikeFactory, CustomerFactory, ShopFactory
from tests.moving import fates, imported, looked_at, moved_in, reasons, taken_back
from workshop.models import Customer, OldNumber, Shop
from workshop.moving.kinds import KINDS
from workshop.sheets import steps
from workshop.sheets.steps import SheetNotReady, begin_import, bring_in, go_on, say_of_held, stop_sheet

pytestmark = pytest.mark.django_db
HEAD = "number,name,phone,email,agreed_to_reminders,rider_kg,notes,somebody_else\n"


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def known(shop: Shop, **fields: str) -> Customer:
    """Somebody who was entered at the counter."""
    given = {"name": "Ilva Sample", "phone": "0555 010 101", "email": "ilva@example.org"} | fields
    return CustomerFactory(shop=shop, **given)


def test_a_new_customer_comes_in_with_all_that_the_file_says(shop: Shop) -> None:
    sheet = looked_at(shop, "customers", HEAD + "7,Ilva Sample,0555 010 101,ilva@example.org,yes,74.5,Rings first,\n")
    assert (fates(sheet), Customer.objects.count()) == (["new"], 0)
    imported(sheet)
    one = Customer.objects.get()
    assert (one.name, one.phone, one.email, one.rider_mass_kg, one.notes) == (
        "Ilva Sample", "0555 010 101", "ilva@example.org", 74.5, "Rings first",
    )  # fmt: skip
    assert one.agreed_to_reminders_at is not None
    assert OldNumber.objects.get(number="7").record == one.pk
    assert "0555010101" in one.search_text


@pytest.mark.parametrize("phone", ["+49 555 010101", "0555/010-101", "0555010101"])
def test_a_phone_is_the_same_however_it_is_written(shop: Shop, phone: str) -> None:
    ilva = known(shop)
    (row,) = looked_at(shop, "customers", f"name,phone,notes\nilva sample,{phone},Pays late\n").rows.all()
    assert (row.fate, row.before["pk"], row.before["is"]) == ("changed", ilva.pk, "Ilva Sample")
    assert ["notes", "", "Pays late"] in row.changes


def test_an_email_is_the_same_whatever_letters_are_large(shop: Shop) -> None:
    known(shop)
    assert fates(looked_at(shop, "customers", "name,email\nIlva Sample,ilva@example.org\n")) == ["unchanged"]
    (row,) = looked_at(shop, "customers", "name,email\nIlva Sample,ILVA@Example.org\n").rows.all()
    assert row.changes == [["email", "ilva@example.org", "ILVA@Example.org"]]


def test_somebody_of_another_name_with_the_phone_is_asked_about(shop: Shop) -> None:
    ilva = known(shop)
    row = "name,phone,somebody_else\nTorben Sample,0555 010 101,{}\n"
    (reason,) = reasons(looked_at(shop, "customers", row.format("")))
    assert "is that of Ilva Sample" in reason
    moved_in(shop, "customers", row.format("yes"))
    assert set(Customer.objects.values_list("name", flat=True)) == {"Ilva Sample", "Torben Sample"}
    Customer.objects.exclude(pk=ilva.pk).delete()
    moved_in(shop, "customers", row.format("no"))
    assert Customer.objects.get().name == "Torben Sample"


def test_phone_and_email_of_two_people_are_asked_about(shop: Shop) -> None:
    known(shop)
    known(shop, name="Ilva Sample", phone="0555 020 202", email="other@example.org")
    (reason,) = reasons(looked_at(shop, "customers", "name,phone,email\nIlva Sample,0555 010 101,other@example.org\n"))
    assert "2 records" in reason


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (",Ilva,,no-address,,,,", "email: Enter a valid email address"),
        (",,0555 1,,,,,", "name: This cell is empty"),
        (",Ilva,,,perhaps,,,", "agreed_to_reminders: “perhaps” is neither yes nor no"),
        (",Ilva,,,,7000,,", "rider_kg: “7000” is not from 15 to 250"),
        (",Ilva,,,,heavy,,", "rider_kg: “heavy” is no number"),
        (f",{'I' * 121},,,,,,", "name: Shorten this to 120 characters"),
        (",Ilva,1,2,3,4,5,6,7,8", "10 cells in 8 columns"),
    ],
)
def test_a_bad_row_says_why_and_the_rest_comes_in(shop: Shop, row: str, reason: str) -> None:
    sheet = looked_at(shop, "customers", f"{HEAD}{row}\n,Torben Sample,0555 020 202,,,,,\n")
    assert fates(sheet) == ["refused", "new"]
    assert reason in reasons(sheet)[0]
    imported(sheet)
    assert Customer.objects.get().name == "Torben Sample"


ILVA = "{},Ilva Sample,0555 010 101,ilva@example.org,,,,{}\n"


@pytest.mark.parametrize(
    ("row", "shared"),
    [
        (",Ilva Sample,+49 555 010 101,,,,,", "phone"),
        ("8,Torben Sample,0555/010101,torben@example.org,,,,", "phone"),
        (",Torben Sample,0555 020 202,ILVA@example.org,,,,", "email"),
    ],
)
def test_who_has_the_phone_or_email_of_a_row_before_is_left_out_until_somebody_says_otherwise(
    shop: Shop, row: str, shared: str
) -> None:
    content = HEAD + ILVA.format("7", "") + f"{row}\n,Runa Sample,0555 030 303,,,,,\n"
    sheet = looked_at(shop, "customers", content)
    assert fates(sheet) == ["new", "twice", "new"]
    held = sheet.rows.all()[1]
    assert (held.same_as, held.reason) == (2, f"Same {shared} as line 2, so it is left out.")
    imported(sheet)
    assert sorted(Customer.objects.values_list("name", flat=True)) == ["Ilva Sample", "Runa Sample"]
    Customer.objects.all().delete()
    OldNumber.objects.all().delete()
    sheet = looked_at(shop, "customers", content)
    kind, held = KINDS["customers"], sheet.rows.all()[1]
    say_of_held(shop=shop, kind=kind, pk=sheet.pk, rows=[held.pk], are_others=True, by=None)
    assert fates(sheet) == ["new", "new", "new"]
    say_of_held(shop=shop, kind=kind, pk=sheet.pk, rows=[held.pk], are_others=False, by=None)
    assert (fates(sheet), sheet.rows.all()[1].reason) == (["new", "twice", "new"], held.reason)
    say_of_held(shop=shop, kind=kind, pk=sheet.pk, rows=[held.pk], are_others=True, by=None)
    imported(sheet)
    assert Customer.objects.count() == 3
    with pytest.raises(SheetNotReady):
        say_of_held(shop=shop, kind=kind, pk=sheet.pk, rows=[held.pk], are_others=False, by=None)
    taken_back(sheet)
    assert not Customer.objects.exists()


def test_the_same_phone_far_behind_is_seen(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(steps, "ROWS_IN_A_CHUNK", 2)
    others = "".join(f",Rider {n},0555 9 {n:04},,,,,\n" for n in range(4))
    sheet = looked_at(shop, "customers", HEAD + ILVA.format("", "") + others + ILVA.format("9", ""))
    assert fates(sheet) == ["new"] * 5 + ["twice"]
    assert list(sheet.rows.values_list("same_as", flat=True)) == [None] * 5 + [2]


def test_who_the_file_says_is_somebody_else_comes_in_and_is_known_again(shop: Shop) -> None:
    content = HEAD + ILVA.format("", "") + ",Torben Sample,0555 010101,,,,,yes\n" + ILVA.format("", "yes")
    sheet = looked_at(shop, "customers", content)
    assert fates(sheet) == ["new", "new", "twice"]  # of the same name it is the same
    imported(sheet)
    assert Customer.objects.count() == 2
    assert fates(looked_at(shop, "customers", content)) == ["unchanged", "unchanged", "twice"]


def test_two_rows_about_one_on_record_are_one(shop: Shop) -> None:
    known(shop)
    content = HEAD + ",Ilva Sample,0555 010 101,,,80,,\n,Ilva Sample,,ilva@example.org,,81,,\n"
    sheet = looked_at(shop, "customers", content)
    assert fates(sheet) == ["changed", "twice"]
    assert "customer on record" in reasons(sheet)[0]


def test_a_number_twice_and_a_name_twice_with_nothing_else(shop: Shop) -> None:
    content = HEAD + "1,Ilva Sample,,,,,,\n1,Torben Sample,,,,,,\n,Runa Sample,,,,,,\n,Runa Sample,,,,,,\n"
    sheet = looked_at(shop, "customers", content)
    assert fates(sheet) == ["new", "refused", "new", "twice"]
    assert reasons(sheet)[0].startswith("number: it is that of line 2 too")
    assert reasons(sheet)[1].startswith("Same name as line 4")


def test_a_row_that_is_refused_holds_nobody_back(shop: Shop) -> None:
    content = HEAD + ",Ilva Sample,0555 010 101,no-address,,,,\n,Ilva Sample,0555 010 101,,,,,\n"
    assert fates(looked_at(shop, "customers", content)) == ["refused", "new"]


def test_two_of_a_name_without_phone_are_two_where_their_numbers_say_so(shop: Shop) -> None:
    content = HEAD + "1,Ilva Sample,,,,,,\n2,Ilva Sample,,,,,,\n"
    moved_in(shop, "customers", content)
    assert Customer.objects.count() == 2
    assert fates(looked_at(shop, "customers", content)) == ["unchanged"] * 2


def test_all_is_taken_back_but_who_was_used_since(shop: Shop) -> None:
    ilva = known(shop)
    rows = "1,Ilva Sample,0555 010 101,,,80,,\n2,Torben Sample,,,,,,\n3,Runa Sample,,,,,,\n"
    sheet = moved_in(shop, "customers", HEAD + rows)
    BikeFactory(customer=Customer.objects.get(name="Torben Sample"))
    taken_back(sheet)
    assert [row.outcome for row in sheet.rows.all()] == ["taken_back", "stays", "taken_back"]
    assert "It was used since (bikes)" in sheet.rows.all()[1].said
    ilva.refresh_from_db()
    assert ilva.rider_mass_kg is None
    assert set(Customer.objects.values_list("name", flat=True)) == {"Ilva Sample", "Torben Sample"}
    assert [one.number for one in OldNumber.objects.all()] == ["2"]


def test_who_was_merged_since_stays_on_both_sides(shop: Shop) -> None:
    sheet = moved_in(shop, "customers", "number,name\n1,Ilva Sample\n2,Ilva Smple\n")
    one, other = Customer.objects.order_by("pk")
    Customer.objects.filter(pk=other.pk).update(merged_into=one, merged_at=timezone.now())
    taken_back(sheet)
    assert {row.outcome for row in sheet.rows.all()} == {"stays"}
    assert Customer.with_merged.count() == 2


def test_what_somebody_changed_since_stays(shop: Shop) -> None:
    ilva = known(shop)
    sheet = moved_in(shop, "customers", HEAD + ",Ilva Sample,0555 010 101,,,80,From the file,\n,Runa Sample,,,,,,\n")
    Customer.objects.filter(pk=ilva.pk).update(notes="By hand")
    Customer.objects.filter(name="Runa Sample").update(notes="By hand")
    taken_back(sheet)
    assert [row.said for row in sheet.rows.all()] == [
        "Changed since, so it stays: notes.", "Somebody changed it since, so it stays.",
    ]  # fmt: skip
    ilva.refresh_from_db()
    assert (ilva.notes, ilva.rider_mass_kg) == ("By hand", None)


def test_what_changed_after_it_was_shown_is_left_out(shop: Shop) -> None:
    sheet = looked_at(shop, "customers", HEAD + ",Ilva Sample,0555 010 101,,,,,\n")
    known(shop)
    imported(sheet)
    assert "changed after you looked" in sheet.rows.get().said
    assert Customer.objects.count() == 1


def test_rows_are_looked_at_in_a_few_queries(shop: Shop) -> None:
    def queries(rows: int) -> int:
        known(shop, name=f"Known {rows}", phone=f"0555 77 {rows:03}")
        lines = "".join(f"{rows}-{n},New {n},0555 {rows:03} {n:03},n{n}@example.org,,,,\n" for n in range(rows))
        sheet = bring_in(shop=shop, kind=KINDS["customers"], name="x", content=(HEAD + lines).encode(), by=None)
        with CaptureQueriesContext(connection) as asked:
            go_on(shop=shop, kind=KINDS["customers"], pk=sheet.pk, seen=("looking", 0), by=None)
        return len(asked)

    assert queries(5) == queries(50)  # beyond, SQLite takes rows in several statements


def test_an_import_stops_and_goes_on_where_it_was(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    kind = KINDS["customers"]
    monkeypatch.setattr(kind, "rows_at_once", 2)
    monkeypatch.setattr(steps, "ROWS_IN_A_CHUNK", 3)
    sheet = looked_at(shop, "customers", HEAD + "".join(f"{n},Rider {n},,,,,,\n" for n in range(7)))
    assert fates(sheet) == ["new"] * 7
    begin_import(shop=shop, kind=kind, pk=sheet.pk, by=None, with_counts=False)
    for _ in range(2):  # two pages ask for the same step
        go_on(shop=shop, kind=kind, pk=sheet.pk, seen=("importing", 0), by=None)
    stop_sheet(shop=shop, kind=kind, pk=sheet.pk)
    assert Customer.objects.count() == 2
    sheet.refresh_from_db()
    imported(sheet)
    assert Customer.objects.count() == 7
