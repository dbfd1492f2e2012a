"""What is held of a person: exported whole, erased without the technical record, proposed when it is old."""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import zipfile
from dataclasses import replace
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from specs.models import MendedValue
from tests.factories import (
    BikeFactory,
    ConditionNoteFactory,
    CustomerFactory,
    DocumentFactory,
    PhotoFactory,
    RunFactory,
    SettingsRecordFactory,
    ShopFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    TickFactory,
    UserFactory,
)
from tests.known import known
from tests.logbook import changed
from workshop.customers.privacy_models import Erasure, RetentionPolicy
from workshop.links.links import make_link
from workshop.models import Contact, Customer, CustomerLink, Document, Photo, Ticket
from workshop.privacy.erasing import erase_customer, finish_erasures, proposed_for_erasure
from workshop.privacy.export import gather_person, write_export
from workshop.privacy.scrubbing import ERASED, scrub_data, scrubber
from workshop.tickets.contacts import log_call
from workshop.tickets.logbook import log
from workshop.tickets.models import StateMove
from workshop.work.event_words import FIELDS
from workshop.work.old_parts import change_old_part, keep_old_part

PERSON = {
    "name": "Odile Novák",
    "phone": "0555 123 456",
    "email": "odile@example.org",
    "address": "3 Weir Row\nUnder Beacon",
    "notes": "Pays late",
}


@pytest.fixture
def odile(db: None) -> Customer:
    """A customer with a whole life in the shop; every personal word is in it somewhere."""
    customer: Customer = CustomerFactory.create(**PERSON, rider_mass_kg=70, agreed_to_reminders=True)
    bike = BikeFactory.create(customer=customer, frame_number="FR-ODILE", notes="Odile's best")
    unit = SuspensionUnitFactory.create(
        shop=customer.shop, customer=customer, serial="SN-77", notes="Odile says it was dropped"
    )
    ticket = TicketFactory.create(
        shop=customer.shop,
        customer=customer,
        unit=unit,
        bike=bike,
        state=Ticket.State.HANDED_BACK,
        complaint_words="My fork sits low, call my wife Ana",
        notes="Odile wants it by Friday",
    )
    SettingsRecordFactory.create(ticket=ticket, remarks="as Odile had it")
    ConditionNoteFactory.create(ticket=ticket, text="Scratch, Odile Novák knows of it")
    run = RunFactory.create()
    TicketRunFactory.create(ticket=ticket, run=run)
    TickFactory.create(run=run, note="Seal torn. Rang 0555-123-456")
    StateMove.objects.create(ticket=ticket, to_state="ready", reason="Odile's wife collects", at=timezone.now())
    log(
        ticket=ticket,
        by=None,
        kind="moved",
        values={"from_state": "on_the_bench", "to_state": "ready", "reason": "Odile's wife collects"},
    )
    log(
        ticket=ticket,
        by=None,
        kind="agreement_changed",
        changes={"notes": ["", "Odile"], "pressure_pa": [551_580.6, 565_370.1]},
    )
    photo = PhotoFactory.create(ticket=ticket, caption="Odile's fork")
    for name in (photo.file.name, photo.thumbnail.name):
        default_storage.save(name, ContentFile(b"jpeg"))
    pdf = default_storage.save("documents/1/report.pdf", ContentFile(b"%PDF Odile"))
    DocumentFactory.create(
        ticket=ticket,
        kind=Document.Kind.CUSTOMER_REPORT,
        pdf=pdf,
        data={
            "customer": {"name": "Odile Novák", "address": "3 Weir Row"},
            "complaint_words": "My fork sits low",
            "unit": {"title": "Kestrigan Plume"},
            "found": [{"title": "Torn seal", "note": "told Odile"}],
        },
    )
    make_link(ticket=ticket, by=None)
    return customer


def everything_of(customer: Customer) -> str:
    return json.dumps(gather_person(customer), default=str, ensure_ascii=False)


def test_the_export_holds_everything(odile: Customer) -> None:
    file = io.BytesIO()
    write_export(odile, file)
    with zipfile.ZipFile(file) as archive:
        names = set(archive.namelist())
        data = json.loads(archive.read("data.json"))
    photo, document = Photo.objects.get(), Document.objects.get()
    assert {"data.json", "read me.txt", photo.file.name, document.pdf.name} <= names
    assert data["customer"]["email"] == "odile@example.org"
    assert data["units"][0]["serial"] == "SN-77"
    (ticket,) = data["tickets"]
    assert ticket["complaint_words"].startswith("My fork")
    assert ticket["checklists"][0]["steps"][0]["note"].startswith("Seal torn")
    assert len(ticket["logbook"]) == 3
    assert len(data["links"]) == 1


def test_who_agreed_that_an_old_part_goes_is_erased(odile: Customer) -> None:
    part = keep_old_part(ticket=Ticket.objects.get(customer=odile), words="Wipers", by=None)
    agreed = timezone.localdate(part.at)
    note = "Odile Novák said so"
    change_old_part(part=part, state="thrown_away", note=note, seen_version=1, by=None, agreed_on=agreed)
    erase_customer(customer=odile, by=None)
    part.refresh_from_db()
    assert "Odile" not in part.note
    assert part.state == "thrown_away"


def test_calls_and_messages_are_exported_and_their_words_erased(odile: Customer) -> None:
    ticket = Ticket.objects.get(customer=odile)
    log_call(ticket=ticket, outcome="reached", words="Odile pays on Friday", by=None)
    assert "Odile pays on Friday" in everything_of(odile)
    erase_customer(customer=odile, by=None)
    assert "Odile" not in everything_of(Customer.objects.get(pk=odile.pk))
    assert Contact.objects.get().outcome == "reached"


def test_the_export_names_a_lost_file_and_goes_on(odile: Customer) -> None:
    default_storage.delete(known(Document.objects.get().pdf.name))
    file = io.BytesIO()
    write_export(odile, file)
    with zipfile.ZipFile(file) as archive:
        assert "documents/1/report.pdf" not in archive.namelist()
        assert "documents/1/report.pdf" in archive.read("data.json").decode()


def test_two_fields_of_one_name_are_both_in_the_export(odile: Customer, monkeypatch: pytest.MonkeyPatch) -> None:
    """Labels are for reading: a shop's language may call two fields alike."""
    for key in ("rebound_clicks", "compression_clicks"):
        monkeypatch.setitem(FIELDS, key, replace(FIELDS[key], label=lambda: "Clicks"))
    changes: dict[str, list[Any]] = {"rebound_clicks": [None, 7], "compression_clicks": [3, 4]}
    log(ticket=Ticket.objects.get(customer=odile), by=None, kind="settings_corrected", values={"moment": "arrival"},
        changes=changes)  # fmt: skip
    (ticket,) = gather_person(odile)["tickets"]
    both = {("Clicks", "not read", "7"), ("Clicks", "3", "4")}
    assert [{tuple(change.values()) for change in line["changes"]} for line in ticket["logbook"]].count(both) == 1


def test_nobody_else_is_in_the_export(odile: Customer) -> None:
    other = CustomerFactory.create(shop=odile.shop, name="Bram Ashdown")
    TicketFactory.create(shop=odile.shop, customer=other, complaint_words="Bram's own words")
    assert "Bram" not in everything_of(odile)


def test_erasing_leaves_no_word_of_the_person(odile: Customer, django_capture_on_commit_callbacks: Any) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        erase_customer(customer=odile, by=None)
    odile.refresh_from_db()
    assert odile.name == "Erased"
    left = everything_of(odile).casefold()
    assert not re.search(r"\b0555\b", left)  # a whole word: any three digits may stand in a time's microseconds
    for word in ("odile", "novák", "novak", "weir", "wife", "ana", "late", "example.org", "fr-odile"):
        assert word not in left.replace(odile.shop.email, ""), word
    assert not CustomerLink.objects.exists()
    assert not default_storage.exists("documents/1/report.pdf")


def test_erasing_keeps_the_technical_record(odile: Customer) -> None:
    erase_customer(customer=odile, by=None)
    ticket = Ticket.objects.get()
    assert ticket.unit.serial == "SN-77"
    assert ticket.complaint_words == ERASED
    assert ticket.settings_records.get().pressure_pa == pytest.approx(565370.0)
    assert ticket.ticket_runs.get().run.ticks.get().note == f"Seal torn. Rang {ERASED}"
    assert changed(ticket.events.get(kind="agreement_changed")) == {
        "Notes": [ERASED, ERASED],
        "Pressure": ["80 psi", "82 psi"],
    }
    document = Document.objects.get()
    assert document.digest == "0" * 64
    assert document.data["unit"] == {"title": "Kestrigan Plume"}
    assert document.data["found"] == [{"title": "Torn seal", "note": f"told {ERASED}"}]
    assert document.data["erased"] is True


def test_a_weight_that_an_upgrade_set_right_goes_too(odile: Customer) -> None:
    def kept(table: str, row: int) -> MendedValue:
        rule = "rider_mass_above_zero"
        return MendedValue.objects.create(rule=rule, table=table, row=row, field="any", was="-70.0", became="null")

    kept("workshop.customer", odile.pk)
    others = [kept("workshop.customer", odile.pk + 1000), kept("workshop.suspensionunit", odile.pk)]
    erase_customer(customer=odile, by=None)
    assert list(MendedValue.objects.order_by("pk")) == others


def test_photos_stay_unless_asked(odile: Customer, django_capture_on_commit_callbacks: Any) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        erase_customer(customer=odile, by=None)
    assert Photo.objects.get().caption == f"{ERASED}'s fork"
    assert default_storage.exists(known(Photo.objects.get().file.name))


def test_photos_go_when_asked_but_not_anothers_of_the_same_picture(
    odile: Customer, django_capture_on_commit_callbacks: Any
) -> None:
    mine = Photo.objects.get()
    PhotoFactory.create(digest=mine.digest)
    alone = PhotoFactory.create(ticket=mine.ticket)
    default_storage.save(alone.file.name, ContentFile(b"jpeg"))
    with django_capture_on_commit_callbacks(execute=True):
        erasure = erase_customer(customer=odile, by=None, with_photos=True)
    assert erasure.photos_removed == 2
    assert default_storage.exists(known(mine.file.name))
    assert not default_storage.exists(known(alone.file.name))


def test_files_left_by_a_crash_are_removed_later(odile: Customer) -> None:
    erase_customer(customer=odile, by=None)  # the test's transaction never commits, as if killed just before the files
    assert default_storage.exists("documents/1/report.pdf")
    assert finish_erasures() == 1
    assert not default_storage.exists("documents/1/report.pdf")
    assert finish_erasures() == 0


def test_not_while_a_unit_is_in_the_shop(odile: Customer) -> None:
    TicketFactory.create(shop=odile.shop, customer=odile)
    with pytest.raises(ValidationError, match="still in the shop"):
        erase_customer(customer=odile, by=None)
    assert not Erasure.objects.exists()


def test_not_twice(odile: Customer) -> None:
    erase_customer(customer=odile, by=None)
    with pytest.raises(ValidationError, match="already"):
        erase_customer(customer=odile, by=None)


def test_a_report_that_was_erased_is_not_offered(odile: Customer) -> None:
    from workshop.portal.page import report_of

    ticket = Ticket.objects.get()
    assert report_of(ticket) is not None
    erase_customer(customer=odile, by=None)
    assert report_of(ticket) is None


def test_proposes_whom_the_shop_has_not_seen_for_long(db: None) -> None:
    shop, today = ShopFactory.create(), timezone.localdate()
    old, recent, inside = (CustomerFactory.create(shop=shop) for _ in range(3))
    long_ago = timezone.now() - dt.timedelta(days=4 * 366)
    TicketFactory.create(shop=shop, customer=old, state="handed_back", state_since=long_ago)
    TicketFactory.create(shop=shop, customer=recent, state="handed_back")
    TicketFactory.create(shop=shop, customer=inside, state_since=long_ago)
    assert list(proposed_for_erasure(shop, today)) == []
    RetentionPolicy.objects.create(shop=shop, years=3)
    assert list(proposed_for_erasure(shop, today)) == [old]
    assert list(proposed_for_erasure(ShopFactory.create(), today)) == []


def owner_of(shop: Any) -> Client:
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))
    return client


def test_the_owner_exports_and_erases(odile: Customer) -> None:
    client = owner_of(odile.shop)
    assert "Odile Novák" in client.get(reverse("office:privacy"), {"q": "novak"}).content.decode()
    answer = client.get(reverse("office:privacy_export", args=[odile.pk]))
    assert zipfile.ZipFile(io.BytesIO(answer.getvalue())).testzip() is None
    address = reverse("office:privacy_erase", args=[odile.pk])
    wrong = client.post(address, {"name": "Somebody"})
    assert wrong.status_code == 422
    assert "That is not the name" in wrong.content.decode()
    assert client.post(address, {"name": "odile novák", "reason": "asked by letter"}).status_code == 302
    assert Erasure.objects.get().reason == "asked by letter"
    assert "asked by letter" in client.get(reverse("office:privacy")).content.decode()


def test_another_shops_customer_is_not_there(odile: Customer) -> None:
    client = owner_of(ShopFactory.create())
    for name in ("privacy_person", "privacy_export"):
        assert client.get(reverse(f"office:{name}", args=[odile.pk])).status_code == 404
    assert client.post(reverse("office:privacy_erase", args=[odile.pk]), {"name": odile.name}).status_code == 404


@pytest.mark.parametrize("years", ["0", "31", "soon"])
def test_a_limit_that_cannot_be_is_refused(odile: Customer, years: str) -> None:
    answer = owner_of(odile.shop).post(reverse("office:privacy"), {"years": years, "seen_version": "0"})
    assert answer.status_code == 422
    assert not RetentionPolicy.objects.exists()


def test_the_limit_is_saved_once_and_a_second_owner_gets_a_choice(odile: Customer) -> None:
    client = owner_of(odile.shop)
    assert client.post(reverse("office:privacy"), {"years": "3", "seen_version": "0"}).status_code == 302
    assert client.post(reverse("office:privacy"), {"years": "9", "seen_version": "0"}).status_code == 409
    assert RetentionPolicy.objects.get().years == 3


def test_short_parts_of_a_name_stay() -> None:
    scrub = scrubber(name="Jo Li")
    assert (
        scrub("Jo Li said: the joint is tight, lithium grease") == f"{ERASED} said: the joint is tight, lithium grease"
    )


def test_data_of_other_kinds_is_left_alone() -> None:
    assert scrub_data({"a": 1, "b": [None, 2.5, True], "c": "Ines"}, scrubber(name="Ines Okafor")) == {
        "a": 1,
        "b": [None, 2.5, True],
        "c": ERASED,
    }


@given(st.text(min_size=3, max_size=20, alphabet=st.characters(categories=["L"])), st.text(max_size=40))
def test_a_name_standing_alone_never_stays(name: str, text: str) -> None:
    assert name not in scrubber(name=name)(f"{text} {name} {text}").replace(ERASED, "").split(" ")
