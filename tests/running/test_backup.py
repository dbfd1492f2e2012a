"""A backup is whole, read back, private, and of one moment while the shop works."""

from __future__ import annotations

import errno
import json
import os
import shutil
import stat
import threading
import zipfile
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from django.conf import settings as shop_settings
from django.core.management import CommandError, call_command
from django.db import connection

from tests.factories import CustomerFactory, UserFactory
from tests.known import known
from tests.running.conftest import KEY
from tests.running.machines import make_tables_at_once
from workshop.models import Customer, Photo, Ticket
from workshop.running import backup as backing_up
from workshop.running import loading
from workshop.running.backup import BackupFailed, make_backup
from workshop.running.checking import check_backup
from workshop.running.databases import snapshot


def rows_in(path: Path, label: str) -> list[dict[str, Any]]:
    with zipfile.ZipFile(path) as archive:
        return [json.loads(line) for line in archive.read(f"tables/{label}.jsonl").splitlines()]


def test_one_command_backs_up_database_files_and_key(
    shop: Ticket, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)  # for the restore as a test
    call_command("backup")
    (path,) = Path(shop_settings.BACKUP_DIR).iterdir()
    said = capsys.readouterr().out
    assert str(path) in said
    assert "read back and compared" in said
    manifest = check_backup(path)
    assert manifest.tables["workshop.ticket"].rows == 1
    assert len(manifest.files) == 3
    assert manifest.missing_files == []
    assert manifest.migrations["workshop"][0] == "0001_people"
    assert rows_in(path, "workshop.ticket")[0]["complaint_words"] == shop.complaint_words
    with zipfile.ZipFile(path) as archive:
        assert archive.read("secret_key") == KEY
        assert archive.read(f"files/{Photo.objects.get().file.name}") == b"\xff\xd8 a picture"


def test_nobody_else_can_read_it(shop: Ticket, tmp_path: Path) -> None:
    made = make_backup(folder=tmp_path / "new")
    assert stat.S_IMODE(made.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(made.path.parent.stat().st_mode) == 0o700


def test_no_session_is_in_it(shop: Ticket, tmp_path: Path, client: Any) -> None:
    client.force_login(UserFactory())
    made = make_backup(folder=tmp_path)
    assert made.manifest.left_out == [
        "sessions.session", "workshop.dueunit", "workshop.opensession", "workshop.scheduledrun",
        "workshop.sharedkey", "workshop.unitchanged",
    ]  # fmt: skip
    with zipfile.ZipFile(made.path) as archive:
        everything = b"".join(archive.read(name) for name in archive.namelist())
    assert client.session.session_key.encode() not in everything


def test_a_key_from_the_environment_is_not_in_it(
    shop: Ticket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SECRET_KEY", "kept elsewhere")
    call_command("backup", to=tmp_path / "shop.zip")
    assert "keep it yourself" in capsys.readouterr().out
    with zipfile.ZipFile(tmp_path / "shop.zip") as archive:
        assert "secret_key" not in archive.namelist()


def test_it_is_of_one_moment_and_holds_no_writer_up(shop: Ticket) -> None:
    """Somebody else writes while the snapshot is read, and is not in it."""

    def write() -> None:
        try:
            CustomerFactory(shop=shop.shop, name="Came meanwhile")
        finally:
            connection.close()

    with snapshot():
        before = Customer.objects.count()
        writer = threading.Thread(target=write)
        writer.start()
        writer.join(timeout=10)
        assert not writer.is_alive()
        assert Customer.objects.count() == before
    assert Customer.objects.count() == before + 1


def test_a_snapshot_cannot_write(shop: Ticket) -> None:
    with pytest.raises(Exception, match=r"readonly|read-only"), snapshot():
        Customer.objects.update(name="Changed")
    assert not Customer.objects.filter(name="Changed").exists()


def test_a_file_that_is_gone_is_named_and_the_rest_is_backed_up(
    shop: Ticket, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    photo = Photo.objects.get()
    photo.file.storage.delete(known(photo.file.name))
    call_command("backup", to=tmp_path / "shop.zip")
    assert check_backup(tmp_path / "shop.zip").missing_files == [photo.file.name]
    assert "1 photos or documents could not be read" in capsys.readouterr().err


def test_links_out_of_the_folder_are_not_followed(shop: Ticket, data_dir: Path, tmp_path: Path) -> None:
    (tmp_path / "private").write_text("not the shop's")
    (data_dir / "files" / "photos" / "link.jpg").symlink_to(tmp_path / "private")
    assert "photos/link.jpg" not in make_backup(folder=tmp_path / "new").manifest.files


class Usage(NamedTuple):
    total: int
    used: int
    free: int


def test_too_little_room_is_said_before_anything_is_written(
    shop: Ticket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda path: Usage(100 << 20, 99 << 20, 1 << 20))
    with pytest.raises(CommandError, match="not enough room"):
        call_command("backup", to=tmp_path / "new" / "shop.zip")
    assert list((tmp_path / "new").iterdir()) == []


def test_a_disk_that_fills_up_meanwhile_leaves_nothing(
    shop: Ticket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*arguments: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(backing_up, "_write_key", full)
    with pytest.raises(BackupFailed, match="No space left"):
        make_backup(folder=tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []


def test_one_that_reads_back_differently_is_thrown_away(
    shop: Ticket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:

    def check_after_a_bad_block(path: Path) -> Any:
        content = bytearray(path.read_bytes())
        content[200] ^= 0xFF
        path.write_bytes(content)
        return check_backup(path)

    monkeypatch.setattr(backing_up, "check_backup", check_after_a_bad_block)
    with pytest.raises(BackupFailed, match="reads back differently"):
        make_backup(folder=tmp_path / "new")
    assert list((tmp_path / "new").iterdir()) == []


def test_a_file_that_is_there_is_not_written_over(shop: Ticket, tmp_path: Path) -> None:
    (tmp_path / "shop.zip").write_text("something else")
    with pytest.raises(CommandError, match="is there already"):
        call_command("backup", to=tmp_path / "shop.zip")
    assert (tmp_path / "shop.zip").read_text() == "something else"


def test_two_backups_within_a_second_have_names_of_their_own(shop: Ticket, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    first, second = make_backup(folder=folder), make_backup(folder=folder)
    assert {path.name for path in folder.iterdir()} == {first.path.name, second.path.name}
    assert first.path != second.path
