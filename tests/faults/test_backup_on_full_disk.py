"""A disk that fills up while a backup is written: it is said, nothing half stays, older backups are untouched."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from tests.factories import UserFactory
from tests.faults.table import Tell
from tests.running.conftest import data_dir, shop
from tests.running.machines import make_tables_at_once
from workshop.models import Document, Ticket
from workshop.running import backup_record, loading, second_place
from workshop.running.checking import check_backup

__all__ = ["data_dir", "shop"]


@pytest.fixture(autouse=True)
def _tables_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The test restore, without the way through every migration."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)


class FullAfter:
    """A file on a disk that is full after so many bytes: injected where the backup is written; it takes no root."""

    def __init__(self, file: Any, most: int) -> None:
        self._file, self._left = file, most

    def write(self, content: bytes) -> int:
        self._left -= len(content)
        if self._left < 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        return int(self._file.write(content))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._file, name)

    def __enter__(self) -> FullAfter:
        return self

    def __exit__(self, *problem: object) -> None:
        self._file.close()


def test_a_backup_that_finds_the_disk_full_leaves_nothing_and_harms_none(
    shop: Ticket, settings: Any, monkeypatch: pytest.MonkeyPatch, told: Tell
) -> None:
    call_command("backup")
    folder = Path(settings.BACKUP_DIR)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    whole = max(map(len, before.values()))
    real, said = os.fdopen, ""
    for most in (0, 100, whole // 2, whole - 10):
        with monkeypatch.context() as full:
            full.setattr(os, "fdopen", lambda fd, mode, *more, most=most, **named: FullAfter(real(fd, mode), most))
            with pytest.raises(CommandError) as raised:
                call_command("backup")
        said = str(raised.value)
        assert "No space left on device" in said
        assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    for name in before:
        check_backup(folder / name)
    told("disk full while backing up (injected at the file)", injected=4, words=said)


def test_a_copy_and_its_note_that_find_the_disk_full_are_said_without_a_traceback(
    shop: Ticket, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: Tell
) -> None:
    def full(*arguments: Any, **options: Any) -> Any:
        raise OSError(errno.ENOSPC, "No space left on device", str(tmp_path / "backups.json"))

    monkeypatch.setattr(backup_record, "_write", full)
    with pytest.raises(CommandError, match="the disk is full") as raised:
        call_command("backup")
    assert len(list(Path(settings.BACKUP_DIR).glob("shop-*.zip"))) == 1  # it was whole before the note of it failed
    assert not list(Path(settings.BACKUP_DIR).glob(".*"))
    assert second_place.newest_backup(Path(settings.BACKUP_DIR)) is not None
    told("disk full under the notes of a backup", words=str(raised.value))


def test_a_document_that_finds_the_disk_full_is_not_issued(
    shop: Ticket, monkeypatch: pytest.MonkeyPatch, told: Tell
) -> None:
    from django.core.files.storage import FileSystemStorage

    def full(*arguments: Any, **options: Any) -> Any:
        raise OSError(errno.ENOSPC, "No space left on device")

    client = Client(raise_request_exception=False)
    client.force_login(UserFactory(shop=shop.shop, owner=True))
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: b"%PDF-1.7")
    issued = Document.objects.count()
    with monkeypatch.context() as patch:
        patch.setattr(FileSystemStorage, "_save", full)
        answer = client.post(reverse("documents:issue", args=[shop.number, "label"]))
    assert answer.status_code == 503
    assert "The disk is full" in answer.content.decode()
    assert Document.objects.count() == issued
    told("disk full under a document (injected at the store)", words="The disk is full")
