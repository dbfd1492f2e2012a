"""The bucket of the shop's files refuses, is away, silent or slow, or has lost an object: said in words."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains

from tests.bucket_server import OwnBucket
from tests.factories import CustomerFactory, TicketFactory, UserFactory
from tests.faults import faulty_store as faulty
from tests.faults.served import a_photo
from tests.faults.table import Tell
from tests.known import known
from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from workshop.documents.issuing import issue, stored_pdf
from workshop.models import Customer, Document, Erasure, Photo, Shop, Ticket
from workshop.privacy.erasing import erase_customer, finish_erasures
from workshop.running import loading
from workshop.running.backup import BackupFailed, make_backup
from workshop.running.lives_here import note_shop
from workshop.running.preflight import shared
from workshop.running.preflight.findings import Exit, Purpose
from workshop.running.standing import standing_of_system
from workshop.running.whereabouts import NotUsable, check_may_begin
from workshop.tickets.photos import add_photo, choose_photo, decode_photo
from workshop.web import bucket_storage
from workshop.web.storage import StoreAway

AWAY = "Photos and documents cannot be reached"
# What the store does, and what a person who looks after it reads of that.
FAULTS = {
    "refuses": "It refuses this shop (",
    "breaks": "It answers with an error (500",
    "is_silent": "It does not answer in time.",
    "nobody": "It cannot be reached: ",
}


@pytest.fixture
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("CONNECT_S", "READ_S"):
        monkeypatch.setattr(bucket_storage, name, 0.4)
    monkeypatch.setattr(bucket_storage, "WHOLE_FILE_S", 1)


@contextmanager
def store_that(fault: str) -> Iterator[str]:
    if fault == "nobody":
        yield faulty.nobody()
    else:
        with faulty.faulty_store(getattr(faulty, fault)) as address:
            yield address


@pytest.fixture
def photo(bucket: OwnBucket, db: None) -> Photo:
    """Kept while the bucket was well."""
    return add_photo(ticket=TicketFactory(), by=None, photo=decode_photo(a_photo()))


@pytest.fixture
def clerk(photo: Photo) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(UserFactory(shop=photo.ticket.shop, owner=True))
    return client


@pytest.mark.usefixtures("short_waits")
@pytest.mark.parametrize("fault", FAULTS)
def test_what_needs_the_store_says_so_and_the_rest_goes_on(
    fault: str, bucket: OwnBucket, photo: Photo, clerk: Client, told: Tell
) -> None:
    address, shop = reverse("counter:photo", args=[photo.pk]), photo.ticket.shop
    send = reverse("counter:add_photos", args=[photo.ticket.number])
    with store_that(fault) as endpoint:
        bucket.use(endpoint=endpoint)
        began = time.monotonic()
        assertContains(clerk.get(address), AWAY, status_code=503)
        assert time.monotonic() - began < 6
        assertContains(clerk.post(send, {"photos": [a_photo((1, 2, 3))], "caption": ""}), AWAY, status_code=503)
        assert Photo.objects.count() == 1
        assert clerk.get(reverse("counter:ticket", args=[photo.ticket.number])).status_code == 200
        assertContains(clerk.get(reverse("office:system")), "the bucket they are kept in cannot be used")
        facts = standing_of_system(shop, timezone.now()).facts
        assert next(fact for fact in facts if fact.label == "Photos and documents").value == "Not to be had"
    bucket.use()
    assert clerk.get(address).status_code == 200
    assert clerk.post(send, {"photos": [a_photo((1, 2, 3))], "caption": ""}).status_code == 302
    told(f"bucket of files {fault.replace('_', ' ').replace('nobody', 'cannot be reached')}", words=AWAY)


@pytest.mark.usefixtures("short_waits")
@pytest.mark.parametrize("fault", FAULTS)
def test_a_start_is_refused_with_the_reason(fault: str, bucket: OwnBucket, data_dir: Path, shop: Ticket) -> None:
    with store_that(fault) as endpoint:
        bucket.use(endpoint=endpoint)
        (finding,) = shared.bucket_answers(Purpose.SERVE)
        assert finding.stops
        assert f"s3://{bucket.name} at {endpoint} cannot be used. {FAULTS[fault]}" in finding.words
        assert "FILES_URL" in finding.todo
        (on_page,) = shared.bucket_answers(Purpose.PAGE)
        assert not on_page.stops
        with pytest.raises(CommandError, match="cannot be used") as raised:
            call_command("upgrade")
        assert raised.value.returncode == Exit.NOT_BEGUN
        with pytest.raises(BackupFailed, match=r"Photos and documents could not be read from s3://"):
            make_backup(folder=data_dir / "backups")
        assert not list((data_dir / "backups").iterdir())
    bucket.use()
    assert list(shared.bucket_answers(Purpose.SERVE)) == []


def test_a_bucket_that_is_not_there_and_credentials_that_are_not(
    bucket: OwnBucket, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    bucket.name = "nobody-made-this-one"
    bucket.use()
    (finding,) = shared.bucket_answers(Purpose.SERVE)
    assert "There is no bucket of that name" in finding.words
    for name in ("AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"):
        monkeypatch.delenv(name)
    bucket.use()
    (finding,) = shared.bucket_answers(Purpose.SERVE)
    assert "set AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY" in finding.words


@pytest.mark.usefixtures("short_waits")
def test_a_store_that_drips_is_given_up(bucket: OwnBucket) -> None:
    with store_that("drips") as endpoint:
        bucket.use(endpoint=endpoint)
        began = time.monotonic()
        with pytest.raises(StoreAway, match="in time"):
            default_storage.open("photos/a.jpg")
        assert 1 <= time.monotonic() - began < 5


@pytest.mark.usefixtures("short_waits")
def test_who_comes_just_after_waits_not_at_all(bucket: OwnBucket, monkeypatch: pytest.MonkeyPatch) -> None:
    with store_that("is_silent") as endpoint:
        bucket.use(endpoint=endpoint)
        with pytest.raises(StoreAway):
            default_storage.open("photos/a.jpg")
        began = time.monotonic()
        for _ in range(20):  # as many as a page of a ticket shows
            with pytest.raises(StoreAway, match="in time"):
                default_storage.open("photos/a.jpg")
        assert time.monotonic() - began < 0.3


def test_the_limits_as_shipped_keep_nobody_waiting_for_long() -> None:
    assert 2 * (bucket_storage.CONNECT_S + bucket_storage.READ_S) <= 20
    assert bucket_storage.WHOLE_FILE_S <= 20
    assert bucket_storage.AWAY_S <= 10


def test_a_lost_object_is_said_to_be_missing(
    bucket: OwnBucket, photo: Photo, clerk: Client, told: Tell, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    ticket = photo.ticket
    paper = issue(ticket=ticket, kind=Document.Kind.LABEL, by=UserFactory(shop=ticket.shop), ticket_address="x")
    bucket.lose()
    for name in ("counter:photo", "counter:small_photo"):
        assertContains(clerk.get(reverse(name, args=[photo.pk])), "This file is missing", status_code=404)
    assert stored_pdf(paper) is None
    shown = clerk.get(reverse("documents:pdf", args=[ticket.number, paper.kind, paper.revision]), follow=True)
    assertContains(shown, "is missing or not the one that was issued")
    told("object of the bucket lost", injected=3, words="This file is missing")


def test_no_paper_says_for_good_that_a_picture_is_lost_while_the_store_is_away(
    bucket: OwnBucket, photo: Photo, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The store would take the paper; it is the picture on it that it does not give just now."""
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())
    by = UserFactory(shop=photo.ticket.shop)
    choose_photo(photo=photo, by=by, moment="before")
    with monkeypatch.context() as patch:
        patch.setattr(bucket_storage.BucketStorage, "bytes_of", goes_away)
        with pytest.raises(StoreAway):
            issue(ticket=photo.ticket, kind=Document.Kind.CUSTOMER_REPORT, by=by, ticket_address="x")
        assert not Document.objects.exists()
    paper = issue(ticket=photo.ticket, kind=Document.Kind.CUSTOMER_REPORT, by=by, ticket_address="x")
    monkeypatch.setattr(bucket_storage.BucketStorage, "bytes_of", goes_away)
    with pytest.raises(StoreAway):  # which is not the same as lost
        stored_pdf(Document.objects.get(pk=paper.pk))


@pytest.mark.usefixtures("short_waits")
def test_an_erasure_goes_on_once_the_store_is_back(bucket: OwnBucket, data_dir: Path, shop: Ticket) -> None:
    Ticket.objects.update(state=Ticket.State.HANDED_BACK)
    with store_that("nobody") as endpoint:
        bucket.use(endpoint=endpoint)
        erase_customer(customer=Customer.objects.get(pk=shop.customer_id), by=None, with_photos=True)
        facts = standing_of_system(shop.shop, timezone.now()).facts
        assert "still kept" in next(fact for fact in facts if fact.label == "Jobs not finished").todo
    assert len(bucket.kept()) == len(known(Erasure.objects.get().files_to_remove)) == 3
    bucket.use()
    assert finish_erasures() == 3
    assert bucket.kept() == set()


@pytest.mark.usefixtures("short_waits")
def test_no_empty_shop_is_made_while_nobody_can_see_whether_one_was(
    bucket: OwnBucket, data_dir: Path, transactional_db: None
) -> None:
    check_may_begin()
    with store_that("nobody") as endpoint:
        bucket.use(endpoint=endpoint)
        with pytest.raises(NotUsable, match="cannot be seen"):
            check_may_begin()


@pytest.fixture
def backup(
    bucket: OwnBucket, shop: Ticket, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Path]:
    """Of a shop on another machine, to which somebody came afterwards; the bucket lost a photo that the backup has."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    made = make_backup(folder=tmp_path / "backups").path
    with empty_machine(settings, tmp_path / "other"):
        bucket.use()
        restore_backup(made, replace=True)
        note_shop(anew=True)
        CustomerFactory(shop=Shop.objects.get(), name="Came later")
        default_storage.save("photos/later.jpg", ContentFile(b"later"))
        bucket.lose(known(Photo.objects.get().file.name))
        yield made


def goes_away(*arguments: Any, **options: Any) -> Any:
    raise StoreAway("It does not answer in time.")


def test_a_restore_whose_files_cannot_be_put_changes_nothing(
    bucket: OwnBucket, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = bucket.kept()
    with monkeypatch.context() as patch:
        patch.setattr(bucket_storage.BucketStorage, "put_in_place", goes_away)
        with pytest.raises(CommandError, match=r"could not be put into s3://.*in time\. Nothing was changed"):
            call_command("restore", backup, replace=True, without_backup=True)
    assert Customer.objects.filter(name="Came later").exists()
    assert bucket.kept() == before
    assert list(shared.files_are_ours(Purpose.SERVE)) == []


def test_a_restore_that_cannot_clear_away_says_in_what_state_the_shop_is(
    bucket: OwnBucket, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = bucket_storage.BucketStorage.delete

    def takes_no_file_away(store: Any, name: str) -> None:
        if not name.startswith("."):
            goes_away()
        real(store, name)

    with monkeypatch.context() as patch:
        patch.setattr(bucket_storage.BucketStorage, "delete", takes_no_file_away)
        with pytest.raises(CommandError, match=r"in its place with all its files, and s3://.*check_shop --accept"):
            call_command("restore", backup, replace=True, without_backup=True)
    assert not Customer.objects.filter(name="Came later").exists()
    assert known(Photo.objects.get().file.name) in bucket.kept()
    with contextlib.suppress(CommandError):  # that something else wants seeing to, such as the machine's disk
        call_command("check_shop", "--accept", "--quick")
    assert list(shared.files_are_ours(Purpose.SERVE)) == []
