"""A group of shops keeps its files in one bucket: seen from every machine, erased, backed up, told from another's."""

from __future__ import annotations

import contextlib
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.bucket_server import OwnBucket
from tests.factories import CustomerFactory, ShopFactory, TicketFactory, UserFactory
from tests.faults.served import a_photo
from tests.known import known
from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from tests.words_of_a_person import texts_of
from workshop.documents.issuing import issue, stored_pdf
from workshop.models import Customer, Document, Erasure, Photo, Shop, Ticket, User
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import write_export
from workshop.running import loading
from workshop.running.backup import make_backup
from workshop.running.files_belong import FILES_MARKER, whose_files
from workshop.running.lives_here import note_shop
from workshop.running.preflight import shared
from workshop.running.preflight.findings import Exit, Purpose
from workshop.running.preflight.looking import look
from workshop.running.standing import standing_of_system
from workshop.running.stored import stored_files
from workshop.running.whereabouts import NotUsable, check_may_begin
from workshop.tickets.photos import add_photo, choose_photo, decode_photo
from workshop.web import bucket_storage

ADDRESS = "https://shop.example/bench/1/"


@pytest.fixture
def clerk(db: None) -> User:
    return UserFactory()


@pytest.fixture
def ticket(clerk: User) -> Ticket:
    return TicketFactory(shop=clerk.shop)


def another_machine(bucket: OwnBucket, settings: Any, folder: Path) -> None:
    """The same database and bucket, and nothing on the disk."""
    settings.DATA_DIR, settings.MEDIA_ROOT = folder, folder / "files"
    bucket.use()


def read(response: Any) -> bytes:
    return b"".join(response.streaming_content)


def test_a_photo_taken_at_one_machine_is_shown_at_another(
    bucket: OwnBucket, ticket: Ticket, clerk: User, client: Client, settings: Any, tmp_path: Path
) -> None:
    client.force_login(clerk)
    sent = client.post(reverse("counter:add_photos", args=[ticket.number]), {"photos": [a_photo()], "caption": "Left"})
    assert sent.status_code == 302
    photo = Photo.objects.get()
    assert bucket.kept() == {photo.file.name, photo.thumbnail.name}
    assert not Path(settings.MEDIA_ROOT).exists()

    another_machine(bucket, settings, tmp_path / "two")
    small = client.get(reverse("counter:small_photo", args=[photo.pk]))
    assert (small.status_code, small["Content-Type"]) == (200, "image/jpeg")
    assert read(small) == bucket.content(known(photo.thumbnail.name))
    client.force_login(UserFactory(shop=ShopFactory()))
    assert client.get(reverse("counter:photo", args=[photo.pk])).status_code == 404
    client.logout()
    assert client.get(reverse("counter:photo", args=[photo.pk])).status_code == 302


def test_nothing_in_it_is_public(bucket: OwnBucket, ticket: Ticket) -> None:
    row = add_photo(ticket=ticket, by=None, photo=decode_photo(a_photo()))
    grants = bucket.client.get_object_acl(Bucket=bucket.name, Key=row.file.name)["Grants"]
    assert [grant["Grantee"].get("URI", "") for grant in grants] == [""]
    with pytest.raises(NotImplementedError):
        row.file.url  # noqa: B018  asking is what is refused


def test_a_document_prints_photos_of_the_bucket_and_is_kept_in_it(
    bucket: OwnBucket, ticket: Ticket, clerk: User, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    photo = add_photo(ticket=ticket, by=clerk, photo=decode_photo(a_photo()))
    choose_photo(photo=photo, by=clerk, moment="before")
    another_machine(bucket, settings, tmp_path / "two")
    paper = issue(ticket=ticket, kind=Document.Kind.CUSTOMER_REPORT, by=clerk, ticket_address=ADDRESS)
    assert known(paper.pdf.name) in bucket.kept()
    printed = known(stored_pdf(Document.objects.get()))
    assert b"data:image/jpeg;base64," in printed
    assert b"not in the store any more" not in printed
    bucket.lose(known(photo.thumbnail.name))
    again = issue(ticket=ticket, kind=Document.Kind.CUSTOMER_REPORT, by=clerk, ticket_address=ADDRESS)
    assert b"not in the store any more" in known(stored_pdf(again))


def test_two_files_of_one_name_are_both_kept(bucket: OwnBucket, monkeypatch: pytest.MonkeyPatch) -> None:
    first = default_storage.save("photos/a.jpg", ContentFile(b"one"))
    second = default_storage.save("photos/a.jpg", ContentFile(b"two"))
    # Between the question whether a name is free and the writing, another machine may take it.
    monkeypatch.setattr(bucket_storage.BucketStorage, "exists", lambda self, name: False)
    third = default_storage.save("photos/a.jpg", ContentFile(b"three"))
    assert [bucket.content(name) for name in (first, second, third)] == [b"one", b"two", b"three"]


def test_folders_of_one_bucket_are_apart_and_long_lists_are_whole(
    bucket: OwnBucket, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bucket_storage, "LISTED_AT_ONCE", 2)
    bucket.use(folder="mill-yard-2")
    default_storage.save("photos/other.jpg", ContentFile(b"of another"))
    bucket.use(folder="mill-yard")
    names = [f"photos/{number}.jpg" for number in range(5)]
    for name in names:
        default_storage.save(name, ContentFile(b"ours"))
    default_storage.save(FILES_MARKER, ContentFile(b"{}"))
    assert [kept.name for kept in stored_files()] == names
    assert {kept.bytes for kept in stored_files()} == {4}
    assert default_storage.size(names[0]) == 4
    with pytest.raises(FileNotFoundError):
        default_storage.open("photos/other.jpg")


def erasable(shop: Ticket) -> Customer:
    """The customer of the ticket, which is handed back; the PDF names them."""
    Ticket.objects.update(state=Ticket.State.HANDED_BACK)
    return Customer.objects.get(pk=shop.customer_id)


def test_erasing_a_person_takes_their_objects_away(bucket: OwnBucket, shop: Ticket) -> None:
    person = erasable(shop)
    assert len(bucket.kept()) == 3
    erase_customer(customer=person, by=None, with_photos=True)
    assert bucket.kept() == set()
    assert Erasure.objects.get().files_to_remove == []


def test_no_word_of_an_erased_person_is_left_in_the_bucket(bucket: OwnBucket, shop: Ticket) -> None:
    name = default_storage.save("documents/1/report.pdf", ContentFile(b"%PDF of Odile"))
    Document.objects.update(pdf=name)
    assert "Odile" in "".join(text for key in bucket.kept() for text in texts_of(key, bucket.content(key)))
    erase_customer(customer=erasable(shop), by=None)
    assert "Odile" not in "".join(text for key in bucket.kept() for text in texts_of(key, bucket.content(key)))
    assert len(bucket.kept()) == 3  # photos were not asked for; the PDF that no row named is nobody's


def test_what_a_person_is_given_has_their_files(bucket: OwnBucket, shop: Ticket) -> None:
    photo, file = Photo.objects.get(), io.BytesIO()
    bucket.lose(known(Document.objects.get().pdf.name))
    write_export(Customer.objects.get(pk=shop.customer_id), file)
    with zipfile.ZipFile(file) as archive:
        assert archive.read(known(photo.file.name)) == b"\xff\xd8 a picture"
        assert not [name for name in archive.namelist() if name.startswith("documents/")]  # lost, and named in the JSON


@pytest.fixture
def quick_tables(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)


@pytest.mark.usefixtures("quick_tables")
def test_a_backup_goes_from_the_bucket_to_a_folder_and_back(
    bucket: OwnBucket, shop: Ticket, settings: Any, tmp_path: Path
) -> None:
    note_shop(anew=True)
    keys = bucket.kept()
    made = make_backup(folder=tmp_path / "backups")
    assert set(made.manifest.files) == keys
    assert made.manifest.missing_files == []
    with empty_machine(settings, tmp_path / "folder") as folder:
        bucket.use_folder(folder / "files")
        restore_backup(made.path)
        assert (folder / "files" / known(Photo.objects.get().file.name)).read_bytes() == b"\xff\xd8 a picture"
        again = make_backup(folder=tmp_path / "again")
    assert again.manifest.files == made.manifest.files

    other = OwnBucket(bucket.endpoint, settings)
    with empty_machine(settings, tmp_path / "third") as folder:
        other.use()
        call_command("restore", again.path)
        assert other.kept() == keys
        assert not (folder / "files").exists()
        assert not [path.name for path in folder.iterdir() if "restoring" in path.name]
        assert list(shared.files_are_ours(Purpose.SERVE)) == []
        default_storage.save("photos/later.jpg", ContentFile(b"later"))
        damaged = known(Photo.objects.get().file.name)
        other.client.put_object(Bucket=other.name, Key=damaged, Body=b"damaged")
        call_command("restore", again.path, replace=True)
        assert other.kept() == keys
        assert other.content(damaged) == b"\xff\xd8 a picture"
        assert list(shared.files_are_ours(Purpose.SERVE)) == []
    assert bucket.kept() == keys


@pytest.mark.usefixtures("quick_tables")
def test_a_bucket_with_files_counts_as_a_shop(bucket: OwnBucket, shop: Ticket, settings: Any, tmp_path: Path) -> None:
    made = make_backup(folder=tmp_path / "backups")
    with empty_machine(settings, tmp_path / "other"):
        bucket.use()
        with pytest.raises(CommandError, match="a shop here already"):
            call_command("restore", made.path)
        with pytest.raises(
            NotUsable, match=rf"documents of a shop are in s3://{bucket.name} .*and there is no shop in"
        ):
            check_may_begin()


def words_of(purpose: Purpose = Purpose.SERVE) -> str:
    found = list(shared.files_are_ours(purpose))
    assert all(finding.stops and finding.by_choice for finding in found)
    return "\n".join(str(finding) for finding in found)


def test_a_new_bucket_becomes_the_shops_and_stays_it(bucket: OwnBucket, data_dir: Path, transactional_db: None) -> None:
    ShopFactory(name="Aldermoor")
    assert words_of() == ""
    note_shop()
    assert known(whose_files()).shops == ("Aldermoor",)
    assert list(shared.bucket_answers(Purpose.SERVE)) == []
    assert words_of() == ""
    Shop.objects.update(name="Quillback")
    note_shop()  # as each start does
    assert known(whose_files()).shops == ("Aldermoor",)
    assert bucket.kept() == set()


def test_a_bucket_of_another_database_is_refused(
    bucket: OwnBucket, shop: Ticket, monkeypatch: pytest.MonkeyPatch
) -> None:
    Shop.objects.update(name="Aldermoor")
    note_shop(anew=True)
    # The same bucket, and another database: its first migration was made at another moment.
    monkeypatch.setattr(shared, "first_moment", lambda wrapper: "2020-01-01T00:00:00+00:00")
    assert "has the files of “Aldermoor”, of another database" in words_of()
    assert "FILES_URL and DATABASE_URL" in words_of(Purpose.RESTORE)
    with pytest.raises(CommandError, match="of another database") as raised:
        call_command("backup")
    assert raised.value.returncode == Exit.NOT_BEGUN
    assert [finding.stops for finding in shared.files_are_ours(Purpose.PAGE)] == [False]


def test_an_emptied_bucket_is_refused_until_somebody_says_it_is_on_purpose(bucket: OwnBucket, shop: Ticket) -> None:
    note_shop(anew=True)
    assert words_of() == ""
    bucket.lose()
    assert "it was emptied, or is a new or another bucket" in words_of()
    assert "restore --replace" in words_of()
    assert words_of(Purpose.RESTORE) == ""  # which brings them back
    with pytest.raises(CommandError, match="was emptied") as raised:
        call_command("upgrade")
    assert raised.value.returncode == Exit.NOT_BEGUN
    note_shop()  # a start that got so far would not hide it
    assert "was emptied" in words_of()
    with contextlib.suppress(CommandError):  # that something else wants seeing to, such as the machine's disk
        call_command("check_shop", "--accept", "--quick")
    assert words_of() == ""


def test_somebodys_files_without_a_mark_are_not_taken_for_ours(
    bucket: OwnBucket, data_dir: Path, transactional_db: None
) -> None:
    ShopFactory()
    bucket.client.put_object(Bucket=bucket.name, Key="letters/2024.pdf", Body=b"of somebody")
    assert "Somebody’s files are in" in words_of()


def test_a_mark_that_cannot_be_read_is_anothers(bucket: OwnBucket, shop: Ticket) -> None:
    note_shop(anew=True)
    bucket.client.put_object(Bucket=bucket.name, Key=FILES_MARKER, Body=b"not JSON")
    assert "of another database" in words_of()


def test_of_two_machines_that_mark_it_at_once_the_first_holds(
    bucket: OwnBucket, shop: Ticket, monkeypatch: pytest.MonkeyPatch
) -> None:
    theirs = json.dumps({"first_moment": "another", "database": "theirs", "shops": []}).encode()
    bucket.client.put_object(Bucket=bucket.name, Key=FILES_MARKER, Body=theirs)
    with monkeypatch.context() as patch:
        patch.setattr("workshop.running.files_belong.whose_files", lambda: None)  # looked a moment before
        note_shop(anew=True)
    assert known(whose_files()).first_moment == "another"
    found = bucket.client.list_objects_v2(Bucket=bucket.name)["Contents"]
    assert [one["Key"] for one in found if one["Key"].startswith(".")] == [FILES_MARKER]
    assert "of another database" in words_of()


def test_after_tables_were_made_anew_the_files_are_still_ours(bucket: OwnBucket, shop: Ticket) -> None:
    from django.db import connection

    from workshop.running.lives_here import note_tables_made_anew

    note_shop(anew=True)
    first = MigrationRecorder(connection).migration_qs.order_by("pk").first()
    MigrationRecorder(connection).migration_qs.filter(pk=known(first).pk).update(applied=timezone.now())
    assert "of another database" in words_of()
    note_tables_made_anew()
    assert words_of() == ""


def test_without_a_bucket_nothing_is_looked_at(shop: Ticket, settings: Any) -> None:
    assert settings.FILES_BUCKET is None
    note_shop()
    assert not (Path(settings.MEDIA_ROOT) / FILES_MARKER).exists()
    assert list(shared.bucket_answers(Purpose.SERVE)) == list(shared.files_are_ours(Purpose.SERVE)) == []


def test_system_says_where_files_are_and_that_one_is_lost(bucket: OwnBucket, shop: Ticket) -> None:
    def said() -> Any:
        standing = standing_of_system(shop.shop, timezone.now())
        return next(fact for fact in standing.facts if fact.label == "Photos and documents")

    note_shop(anew=True)
    assert (said().value, said().note, said().todo) == ("Open", "in a bucket", "")
    bucket.lose(known(Photo.objects.get().file.name))
    assert said().value == "Missing"


def test_the_look_before_a_start_has_all_of_it(bucket: OwnBucket, shop: Ticket) -> None:
    assert not [one for one in look(Purpose.CHECK) if one.subject == shared.FILES and "nothing says" not in one.words]
    CustomerFactory(shop=shop.shop)
    note_shop(anew=True)
    assert not [one for one in look(Purpose.CHECK) if one.subject == shared.FILES]
