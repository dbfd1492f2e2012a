"""A backup restored is the shop again, on either kind of database, and a failed restore changes nothing."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as shop_settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.db import connections

from tests.factories import CustomerFactory
from tests.known import known
from tests.running.conftest import KEY
from tests.running.keep_old_shop import OLD_SHOPS
from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from tests.running.schemas import schema_of
from workshop.demo.making import make_demo
from workshop.models import Customer, Document, Photo, Shop, StockMovement, Ticket
from workshop.privacy.erasing import erase_customer
from workshop.running import loading, restore
from workshop.running.backup import key_fingerprint, make_backup
from workshop.running.checking import check_backup
from workshop.running.in_use import ShopInUse, hold_for_serving
from workshop.running.lives_here import who_lives_here
from workshop.running.manifest import BackupRefused, Manifest
from workshop.running.restore import ShopThere
from workshop.running.tables import open_migrations


@pytest.fixture
def backup(shop: Ticket, tmp_path: Path) -> Path:
    return make_backup(folder=tmp_path / "backups").path


@pytest.fixture
def quick_tables(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of what comes after the migrations."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)


quick = pytest.mark.usefixtures("quick_tables")


def content(manifest: Manifest) -> dict[str, Any]:
    """What every database agrees on: count and digest of each table's rows and each file's bytes."""
    return {
        "rows": {label: (table.rows, table.rows_sha256) for label, table in manifest.tables.items()},
        "files": manifest.files,
    }


@quick
def test_one_command_restores_an_empty_machine(
    backup: Path, shop: Ticket, settings: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with empty_machine(settings, tmp_path / "other") as folder:
        call_command("restore", backup)
        assert "every row and file compared" in capsys.readouterr().out
        ticket = Ticket.objects.get()
        assert ticket.complaint_words == shop.complaint_words
        assert ticket.booked_at == shop.booked_at  # to the microsecond
        with Photo.objects.get().file.open("rb") as picture:
            assert picture.read() == b"\xff\xd8 a picture"
        assert Document.objects.get().data["a"] == {"largest": 1e16, "small": 1e-7, "none": None}
        assert (folder / "secret_key").read_bytes() == KEY
        assert (folder / "secret_key").stat().st_mode & 0o777 == 0o600
        assert known(who_lives_here()).key == key_fingerprint(KEY.decode())  # which the next start reads
        new = CustomerFactory(shop=Shop.objects.get())
        assert new.pk > ticket.customer_id  # keys go on after those of the backup
        assert sorted(path.name for path in folder.iterdir() if path.name.startswith(".")) == []


@quick
def test_a_backup_of_the_restored_shop_is_the_same(backup: Path, settings: Any, tmp_path: Path) -> None:
    with empty_machine(settings, tmp_path / "other"):
        restored = restore_backup(backup)
        again = make_backup(folder=tmp_path / "again")
    assert content(again.manifest) == content(restored)


@pytest.mark.skipif("sqlite" in os.environ.get("DATABASE_URL", "sqlite"), reason="takes PostgreSQL beside SQLite")
@quick
def test_the_whole_demo_moves_to_sqlite_and_back(
    data_dir: Path, transactional_db: None, settings: Any, tmp_path: Path
) -> None:
    make_demo()
    first = make_backup(folder=tmp_path / "backups")
    assert first.manifest.rows > 1000
    with empty_machine(settings, tmp_path / "laptop", kind="sqlite"):
        assert connections["default"].vendor == "sqlite"
        restore_backup(first.path)
        second = make_backup(folder=tmp_path / "backups-of-the-laptop")
        assert StockMovement.objects.exists()
    with empty_machine(settings, tmp_path / "server"):
        assert connections["default"].vendor == "postgresql"
        restore_backup(second.path)
        third = make_backup(folder=tmp_path / "backups-of-the-server")
    assert content(first.manifest) == content(second.manifest) == content(third.manifest)


@pytest.mark.long  # test_upgrade_from_old.py goes the same way in every run
def test_an_older_backup_is_brought_up_to_date(shop: Ticket, settings: Any, tmp_path: Path) -> None:
    oldest = min(OLD_SHOPS.glob("*.zip"))
    assert check_backup(oldest).migrations["workshop"][-1].startswith(oldest.stem)
    today = schema_of(connections["default"])
    with empty_machine(settings, tmp_path / "new"):
        restore_backup(oldest)
        assert Shop.objects.get().name == "Aldermoor Suspension"
        assert open_migrations(connections["default"]) == []
        assert schema_of(connections["default"]) == today


def test_a_shop_that_is_there_stays(backup: Path, shop: Ticket) -> None:
    with pytest.raises(CommandError, match=r"a shop here already.*--replace.*Nothing was changed"):
        call_command("restore", backup)
    assert Ticket.objects.get() == shop


def test_files_without_a_database_count_as_a_shop(backup: Path, settings: Any, tmp_path: Path) -> None:
    with empty_machine(settings, tmp_path / "other") as folder:
        (folder / "files").mkdir()
        (folder / "files" / "photo.jpg").touch()
        with pytest.raises(ShopThere):
            restore_backup(backup)


@quick
def test_a_shop_is_replaced_when_told_and_backed_up_first(
    backup: Path, settings: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with empty_machine(settings, tmp_path / "other") as folder:
        restore_backup(backup)
        CustomerFactory(shop=Shop.objects.get(), name="Came later")
        default_storage.save("photos/later.jpg", ContentFile(b"later"))
        photo = folder / "files" / known(Photo.objects.get().file.name)
        photo.write_bytes(b"damaged meanwhile")
        call_command("restore", backup, replace=True)
        assert not Customer.objects.filter(name="Came later").exists()
        assert not default_storage.exists("photos/later.jpg")
        assert photo.read_bytes() == b"\xff\xd8 a picture"
        (kept,) = Path(shop_settings.BACKUP_DIR).iterdir()
        assert kept.name.endswith("-before-restore.zip")
        assert str(kept) in capsys.readouterr().out
        call_command("restore", kept, replace=True, without_backup=True)
        assert Customer.objects.filter(name="Came later").exists()


@quick
@pytest.mark.parametrize("moment", ["_compare", "_check_references"])
def test_a_restore_that_fails_leaves_the_old_shop_whole(
    backup: Path, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    with empty_machine(settings, tmp_path / "other") as folder:
        restore_backup(backup)
        CustomerFactory(shop=Shop.objects.get(), name="Came later")
        default_storage.save("photos/later.jpg", ContentFile(b"later"))

        def fails(*arguments: Any) -> None:
            raise BackupRefused("on purpose")

        monkeypatch.setattr(loading, moment, fails)
        with pytest.raises(BackupRefused):
            restore_backup(backup, replace=True)
        assert Customer.objects.filter(name="Came later").exists()
        assert default_storage.exists("photos/later.jpg")
        assert [path.name for path in folder.iterdir() if "restoring" in path.name] == []


@quick
def test_cut_off_before_the_last_step_the_old_shop_has_all_its_files(
    backup: Path, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a power cut would: after the new files came in, before the new database did."""
    with empty_machine(settings, tmp_path / "other"):
        restore_backup(backup)
        default_storage.save("photos/later.jpg", ContentFile(b"later"))
        CustomerFactory(shop=Shop.objects.get(), name="Came later")
        real = restore.put_files

        def cut_off(*arguments: Any) -> None:
            real(*arguments)
            raise KeyboardInterrupt

        monkeypatch.setattr(restore, "put_files", cut_off)
        with pytest.raises(KeyboardInterrupt):
            restore_backup(backup, replace=True)
        assert Customer.objects.filter(name="Came later").exists()
        assert default_storage.exists("photos/later.jpg")
        assert default_storage.exists(known(Photo.objects.get().file.name))


@quick
def test_a_served_shop_is_not_taken_away(backup: Path, settings: Any, tmp_path: Path) -> None:
    with empty_machine(settings, tmp_path / "other"):
        server = hold_for_serving()
        try:
            with pytest.raises(CommandError, match="in use: it is being served"):
                call_command("restore", backup)
        finally:
            os.close(server)
        restore_backup(backup)


@quick
def test_a_shop_that_somebody_has_open_is_not_taken_away(
    backup: Path, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server on another machine, or a shell: seen by its connection, not by the lock of this folder."""
    with empty_machine(settings, tmp_path / "other"):
        restore_backup(backup)
        other = connections["default"].copy()
        try:
            with other.cursor() as cursor:
                cursor.execute("BEGIN")
                cursor.execute("SELECT count(*) FROM workshop_shop")
                monkeypatch.setattr(restore, "LOCK_TIMEOUT", "300ms")
                with pytest.raises(ShopInUse):
                    restore_backup(backup, replace=True)
        finally:
            other.close()
        assert Shop.objects.count() == 1


def test_checking_says_what_is_in_it_and_changes_nothing(
    backup: Path, shop: Ticket, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("restore", backup, check=True)
    assert "is whole" in capsys.readouterr().out
    assert Ticket.objects.get() == shop


@quick
def test_another_key_is_said(
    shop: Ticket, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SECRET_KEY", "kept elsewhere")
    made = make_backup(folder=tmp_path / "backups")
    settings.SECRET_KEY = "a key of the new machine, which is not the old one"  # noqa: S105  opens nothing
    with empty_machine(settings, tmp_path / "other"):
        call_command("restore", made.path)
    assert "another secret key" in capsys.readouterr().err


@quick
def test_a_time_before_1970_and_far_ahead_come_back(shop: Ticket, settings: Any, tmp_path: Path) -> None:
    early = dt.datetime(1899, 12, 31, 23, 59, 59, 1, tzinfo=dt.UTC)
    Ticket.objects.update(booked_at=early, promised_on=dt.date(9999, 12, 31))
    made = make_backup(folder=tmp_path / "backups")
    with empty_machine(settings, tmp_path / "other"):
        restore_backup(made.path)
        assert Ticket.objects.values_list("booked_at", "promised_on").get() == (early, dt.date(9999, 12, 31))


def test_a_database_without_a_shop_gives_no_backup(shop: Ticket, settings: Any, tmp_path: Path) -> None:
    with empty_machine(settings, tmp_path / "other") as folder:
        with pytest.raises(CommandError, match=r"There is no shop in .*Look at DATA_DIR and DATABASE_URL"):
            call_command("backup")
        assert not (folder / "backups").exists()
        assert not (folder / "shop.sqlite3").exists()


@quick
def test_customers_erased_since_the_backup_are_named(
    shop: Ticket, settings: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    CustomerFactory(shop=shop.shop, name="Wants to be forgotten")
    made = make_backup(folder=tmp_path / "backups")
    with empty_machine(settings, tmp_path / "other"):
        restore_backup(made.path)
        erase_customer(customer=Customer.objects.get(name="Wants to be forgotten"), by=None)
        call_command("restore", made.path, replace=True)
        assert Customer.objects.filter(name="Wants to be forgotten").exists()
    assert "1 customers erased since it was made are back" in capsys.readouterr().err
