"""Encrypted copies in a second place, their restore, and the weekly restore as a test."""

from __future__ import annotations

import datetime as dt
import io
import os
import stat
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains

from tests.factories import UserFactory
from tests.known import known
from tests.running.machines import empty_machine, make_tables_at_once
from workshop.models import Customer, Photo, Ticket
from workshop.running import (
    after_backup,
    backups_standing,
    encrypted,
    loading,
    pass_phrase,
    second_place,
    trial_restore,
)
from workshop.running.backup import BackupFailed, make_backup
from workshop.running.backup_record import BackupOutcome, keep_outcome, outcome_of
from workshop.running.checking import check_backup
from workshop.running.encrypted import HEADER, decrypted
from workshop.running.keeping import name_of
from workshop.running.manifest import BackupRefused
from workshop.running.standing import standing_of_system

PHRASE = "vier words by chance, ñ"


@pytest.fixture
def place(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The second place, set by its variables, and scrypt at a light setting; both disks count as different."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    light = encrypted.encrypt
    monkeypatch.setattr(second_place, "encrypt", lambda *args, **options: light(*args, **options, log2_n=4))
    folder = tmp_path / "other disk"
    folder.mkdir()
    monkeypatch.setattr(second_place, "_device", lambda path: 2 if folder in (path, *path.parents) else 1)
    phrase = tmp_path / "phrase"
    phrase.write_text(f"{PHRASE}\n", encoding="utf-8")
    phrase.chmod(0o600)
    settings.BACKUP_COPY_DIR, settings.BACKUP_PASSPHRASE_FILE = str(folder), str(phrase)
    return folder


def copy_in(folder: Path) -> Path:
    (copy,) = folder.iterdir()
    return copy


def todo_of(label: str) -> str:
    facts = backups_standing.standing_of_backups(timezone.now()).facts
    return next(fact.todo for fact in facts if fact.label == label)


def test_one_command_backs_up_copies_and_tries(
    shop: Ticket, place: Path, settings: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("backup")
    said = capsys.readouterr()
    copy = copy_in(place)
    (plain,) = Path(settings.BACKUP_DIR).iterdir()
    assert copy.name == f"{plain.name}.encrypted"
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    with copy.open("rb") as file:
        assert b"".join(decrypted(file, pass_phrase=PHRASE)) == plain.read_bytes()
    assert b"PK\x03\x04" not in copy.read_bytes()[:200]
    assert "encrypted, read back and compared" in said.out
    assert "Restored as a test" in said.out
    assert PHRASE not in said.out + said.err
    assert not backups_standing.standing_of_backups(timezone.now()).wanting
    assert list(Path(settings.DATA_DIR).glob(".*-*")) == []


def test_the_shop_comes_back_from_the_copy(
    shop: Ticket, place: Path, settings: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("backup")
    words = shop.complaint_words
    with empty_machine(settings, tmp_path / "new machine") as folder:
        call_command("restore", str(place))  # of a folder, the newest
        assert Ticket.objects.get().complaint_words == words
        with Photo.objects.get().file.open("rb") as photo:
            assert photo.read() == b"\xff\xd8 a picture"
        assert list(folder.glob(".opened*")) == []
    assert copy_in(place).name in capsys.readouterr().out


def broken(place: Path, how: str) -> Path:
    """The copy, made useless in one way."""
    copy = copy_in(place)
    content = bytearray(copy.read_bytes())
    if how == "cut":
        copy.write_bytes(content[: len(content) // 2])
    elif how == "flipped":
        content[HEADER + 100] ^= 0x10
        copy.write_bytes(content)
    elif how == "flipped at the end":
        content[-1] ^= 0x01
        copy.write_bytes(content)
    return copy


def test_what_cannot_be_opened_is_said_and_nothing_is_restored(
    shop: Ticket, place: Path, settings: Any, tmp_path: Path
) -> None:
    call_command("backup")
    copy, phrase = copy_in(place), Path(settings.BACKUP_PASSPHRASE_FILE)
    whole, right = copy.read_bytes(), phrase.read_bytes()
    for how, words in (
        ("wrong", "pass phrase is not the one"),
        ("cut", "cut short"),
        ("flipped", "damaged"),
        ("flipped at the end", "damaged"),
    ):
        broken(place, how)
        phrase.write_bytes(b"another phrase altogether" if how == "wrong" else right)
        with empty_machine(settings, tmp_path / how) as folder:
            with pytest.raises(CommandError, match=f"{words}.*Nothing was changed"):
                call_command("restore", copy)
            assert {path.name for path in folder.iterdir()} <= {"shop.sqlite3"}
            assert "workshop_shop" not in connection.introspection.table_names()
        for options in ({"check": True}, {"replace": True}):
            with pytest.raises(CommandError, match=words):
                call_command("restore", copy, **options)
        copy.write_bytes(whole)
    assert Ticket.objects.count() == 1


def test_a_folder_without_a_backup_is_said(shop: Ticket, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="There is no backup in"):
        call_command("restore", tmp_path)


def test_a_disk_named_on_the_command_line(shop: Ticket, place: Path, settings: Any, tmp_path: Path) -> None:
    settings.BACKUP_COPY_DIR = ""
    assert "on one disk" in todo_of(backups_standing.SECOND)
    call_command("backup", to=place)
    assert copy_in(place).name.endswith(".zip.encrypted")
    assert todo_of(backups_standing.SECOND) == ""
    (backup,) = Path(settings.BACKUP_DIR).iterdir()
    for folder, words in ((tmp_path / "nowhere", "Is the disk plugged in"), (backup.parent, "backup folder itself")):
        with pytest.raises(BackupFailed, match=words):
            after_backup.copy_to_second_place(backup=backup, folder=folder)


def test_the_warning_that_one_disk_holds_both(shop: Ticket, settings: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """On this machine's real disk, where both folders of the test lie."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loading, "make_tables", make_tables_at_once)
        call_command("backup")
    assert "on one disk" in capsys.readouterr().err
    assert Path(settings.DATA_DIR).stat().st_dev == Path(settings.BACKUP_DIR).stat().st_dev


def test_a_second_place_on_the_same_disk_wants_a_word(shop: Ticket, place: Path, settings: Any) -> None:
    call_command("backup")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(second_place, "_device", lambda path: 1)
        assert "is the other disk plugged in" in todo_of(backups_standing.SECOND)
        settings.BACKUP_COPY_IS_SYNCED = True
        assert todo_of(backups_standing.SECOND) == ""


def test_a_place_that_is_gone_leaves_the_backup_and_is_told(shop: Ticket, place: Path, settings: Any) -> None:
    place.rmdir()
    with pytest.raises(CommandError, match="is whole"):
        call_command("backup")
    assert len(list(Path(settings.BACKUP_DIR).iterdir())) == 1
    assert "plugged in" in todo_of(backups_standing.SECOND)
    place.mkdir()
    assert "last copy was not made" in todo_of(backups_standing.SECOND)


def test_a_copy_that_reads_back_differently_is_thrown_away(
    shop: Ticket, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = second_place._compare

    def after_a_bad_block(copy: Path, backup: Path, phrase: str) -> None:
        content = bytearray(copy.read_bytes())
        content[-20] ^= 0xFF
        copy.write_bytes(content)
        real(copy, backup, phrase)

    monkeypatch.setattr(second_place, "_compare", after_a_bad_block)
    with pytest.raises(CommandError, match="reads back differently"):
        call_command("backup")
    assert list(place.iterdir()) == []


def test_old_copies_are_dropped_there_too(shop: Ticket, place: Path) -> None:
    old = place / f"{name_of(timezone.now() - dt.timedelta(days=800))}.encrypted"
    old.write_bytes(b"old")
    (place / "holiday.jpg").write_bytes(b"not ours")
    call_command("backup")
    assert not old.exists()
    assert (place / "holiday.jpg").exists()


@pytest.mark.parametrize(
    ("content", "mode", "words"),
    [
        (b"four words by chance", 0o640, "Others on this machine may read"),
        (b"", 0o600, "is empty"),
        (b"short\n", 0o600, "at least 12"),
        (b"\xff\xfe\x00 not text", 0o600, "not text"),
    ],
)
def test_a_pass_phrase_that_is_no_use(tmp_path: Path, settings: Any, content: bytes, mode: int, words: str) -> None:
    phrase = tmp_path / "phrase"
    phrase.write_bytes(content)
    phrase.chmod(mode)
    settings.BACKUP_PASSPHRASE_FILE = str(phrase)
    with pytest.raises(pass_phrase.NoPassPhrase, match=words):
        pass_phrase.pass_phrase(for_new=True)


def test_without_a_file_it_is_asked_for_twice(shop: Ticket, place: Path, settings: Any) -> None:
    settings.BACKUP_PASSPHRASE_FILE = ""
    made = make_backup(folder=Path(settings.BACKUP_DIR))
    with pytest.raises(BackupFailed, match="BACKUP_PASSPHRASE_FILE"):  # nobody is there to answer
        after_backup.copy_to_second_place(backup=made.path, folder=place)
    answers = iter([PHRASE, "another", PHRASE, PHRASE, PHRASE])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdin", _Terminal())
        patch.setattr("getpass.getpass", lambda prompt: next(answers))
        with pytest.raises(BackupFailed, match="differ"):
            after_backup.copy_to_second_place(backup=made.path, folder=place)
        assert pass_phrase.pass_phrase(for_new=True) == PHRASE
        assert pass_phrase.pass_phrase(for_new=False) == PHRASE


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_restore_as_a_test_is_due_once_a_week(shop: Ticket, place: Path) -> None:
    now = timezone.now()
    assert after_backup.trial_is_due(now)
    keep_outcome("test", BackupOutcome(now, ok=True, words="", backup="shop.zip"))
    assert not after_backup.trial_is_due(now + dt.timedelta(days=6))
    assert after_backup.trial_is_due(now + dt.timedelta(days=7))
    assert after_backup.trial_is_due(now - dt.timedelta(days=1))  # a clock set back
    keep_outcome("test", BackupOutcome(now, ok=False, words="", backup="shop.zip"))
    assert after_backup.trial_is_due(now + dt.timedelta(hours=1))


def test_a_restore_as_a_test_touches_nothing_of_the_shop(shop: Ticket, place: Path, settings: Any) -> None:
    made = make_backup(folder=Path(settings.BACKUP_DIR))
    Ticket.objects.update(complaint_words="Written since")
    photo = Photo.objects.get()
    photo.file.storage.delete(known(photo.file.name))
    manifest = trial_restore.restore_as_a_test(made.path)
    assert manifest.tables["workshop.ticket"].rows == 1
    assert Ticket.objects.get().complaint_words == "Written since"
    assert not photo.file.storage.exists(known(photo.file.name))
    assert Customer.objects.count() == 1


def test_a_restore_as_a_test_finds_what_is_wrong_with_the_rows(
    shop: Ticket, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A database that gives back other rows than were put in."""
    real = loading._load

    def forgetful(wrapper: Any, archive: zipfile.ZipFile, label: str, model: Any) -> None:
        real(wrapper, archive, label, model)
        if label == "workshop.ticket":
            model._base_manager.update(complaint_words="something else")

    monkeypatch.setattr(loading, "_load", forgetful)
    with pytest.raises(CommandError, match=r"test restore(.|\n)*workshop.ticket reads back differently"):
        call_command("backup")
    last = outcome_of("test")
    assert last is not None
    assert not last.ok
    assert "reads back differently" in todo_of(backups_standing.TRIED)


def test_what_a_killed_one_left_is_gone_with_the_next(shop: Ticket, place: Path, settings: Any) -> None:
    left = Path(settings.DATA_DIR) / f"{trial_restore.SCRATCH}dead"
    left.mkdir()
    (left / "shop.sqlite3").write_bytes(b"rows")
    call_command("backup")
    assert not left.exists()


def test_a_record_that_cannot_be_read_counts_as_none(shop: Ticket, settings: Any) -> None:
    for content in (b"", b"[]", b'{"test": {"at": "yesterday"}}', b'{"test": 3}', b"\xff"):
        (Path(settings.DATA_DIR) / "backups.json").write_bytes(content)
        assert outcome_of("test") is None
    assert "Try one" in todo_of(backups_standing.TRIED)


def test_what_is_old_is_said(shop: Ticket, place: Path) -> None:
    call_command("backup")
    later = timezone.now() + dt.timedelta(days=10)
    wanting = backups_standing.standing_of_backups(later).wanting
    assert [fact.label for fact in wanting] == ["Last backup", backups_standing.SECOND, backups_standing.TRIED]
    assert all("too old" in fact.todo for fact in wanting)


def test_a_copy_that_was_cut_short_since_is_said(shop: Ticket, place: Path) -> None:
    call_command("backup")
    broken(place, "cut")
    assert "cut short" in todo_of(backups_standing.SECOND)


def test_the_system_page_shows_them(client: Client, shop: Ticket, place: Path) -> None:
    call_command("backup")
    client.force_login(UserFactory(shop=shop.shop, owner=True))
    response = client.get(reverse("office:system"))
    assertContains(response, backups_standing.SECOND)
    assertContains(response, "Backup restored as a test")
    labels = [fact.label for fact in standing_of_system(shop.shop, timezone.now()).facts]
    assert labels[:3] == ["Last backup", backups_standing.SECOND, backups_standing.TRIED]


def test_files_that_are_no_backup_at_all(shop: Ticket, place: Path, tmp_path: Path) -> None:
    (tmp_path / "x.zip.encrypted").write_bytes(b"ENCRYPTED BACK")
    with pytest.raises(BackupRefused), second_place.plain_backup(tmp_path / "x.zip.encrypted") as plain:
        check_backup(plain)
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("restore", tmp_path / "missing.zip")
    assert os.listdir(place) == []
