"""An upgrade backs up first, takes its steps, and puts the shop back where one of them fails."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as shop_settings
from django.core.management import CommandError, call_command
from django.db import connection

from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from workshop.models import Photo, Shop, Ticket
from workshop.running import loading, upgrading
from workshop.running.backup import BackupFailed, make_backup
from workshop.running.checking import check_backup
from workshop.running.in_use import hold_for_serving
from workshop.running.upgrading import UpgradeFailed, UpgradeStep, upgrade


@pytest.fixture
def machine(shop: Ticket, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The shop on a machine of its own, which a failed upgrade may replace."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    made = make_backup(folder=tmp_path / "moving")
    with empty_machine(settings, tmp_path / "machine") as folder:
        restore_backup(made.path)
        yield folder


def test_a_backup_comes_first_and_the_steps_follow(machine: Path) -> None:
    said: list[str] = []
    took: list[str] = []

    def step(name: str) -> UpgradeStep:
        return UpgradeStep(
            name, lambda: took.append(f"{name}, {len(list(Path(shop_settings.BACKUP_DIR).iterdir()))} backup")
        )

    backup = upgrade(say=said.append, steps=[step("One"), step("Two")])
    assert took == ["One, 1 backup", "Two, 1 backup"]
    assert backup is not None
    assert check_backup(backup).tables["workshop.ticket"].rows == 1
    assert said == [f"Backed up: {backup}", "One: done", "Two: done"]
    assert backup.name.endswith("-before-upgrade.zip")


def test_a_step_that_fails_half_way_leaves_the_shop_as_it_was(machine: Path) -> None:
    before = Ticket.objects.values().get()

    def a_migration_that_breaks() -> None:
        Ticket.objects.update(complaint_words="Overwritten")
        Photo.objects.get().file.delete(save=False)
        with connection.cursor() as cursor:
            cursor.execute("ALTER TABLE workshop_shop ADD COLUMN half_way integer")
        raise RuntimeError("no such function: reticulate")

    with pytest.raises(UpgradeFailed) as failed:
        upgrade(say=print, steps=[UpgradeStep("Migrations", a_migration_that_breaks)])
    assert "Migrations failed: RuntimeError: no such function" in str(failed.value)
    assert "as it was before" in str(failed.value)
    assert Ticket.objects.values().get() == before
    with Photo.objects.get().file.open("rb") as photo:
        assert photo.read() == b"\xff\xd8 a picture"
    with connection.cursor() as cursor:
        columns = {column.name for column in connection.introspection.get_table_description(cursor, "workshop_shop")}
    assert "half_way" not in columns
    assert Shop.objects.count() == 1


def test_without_a_backup_nothing_begins(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(**arguments: Any) -> None:
        raise BackupFailed("There is not enough room.")

    monkeypatch.setattr(upgrading, "make_backup", refuses)
    took: list[str] = []
    with pytest.raises(UpgradeFailed, match="Without a backup nothing is upgraded"):
        upgrade(say=print, steps=[UpgradeStep("One", lambda: took.append("One"))])
    assert took == []


def test_a_backup_that_will_not_go_back_is_named(machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*arguments: Any, **options: Any) -> None:
        raise RuntimeError("the disk is gone")

    monkeypatch.setattr(upgrading, "restore_alone", fails)
    with pytest.raises(UpgradeFailed, match=r"The backup is whole: .*-before-upgrade\.zip.*--without-backup"):
        upgrade(say=print, steps=[UpgradeStep("One", fails)])


def test_a_served_shop_is_not_upgraded(machine: Path) -> None:
    server = hold_for_serving()
    try:
        with pytest.raises(CommandError, match="in use: it is being served"):
            call_command("upgrade")
    finally:
        os.close(server)


def test_the_command_takes_the_real_steps(machine: Path, capsys: pytest.CaptureFixture[str], settings: Any) -> None:
    settings.STATIC_ROOT = machine / "static"
    call_command("upgrade")
    said = capsys.readouterr().out
    assert [line.partition(":")[0] for line in said.splitlines()] == [
        "Backed up", "Migrations", "Checklists", "Static files", "Checks", said.splitlines()[-1],
    ]  # fmt: skip
    assert "Start the server" in said
    assert (machine / "static" / "css" / "base.css").is_file()


def test_the_way_back_puts_the_shop_of_before_there_and_keeps_what_was_since(
    machine: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = Ticket.objects.values().get()
    backup = upgrade(say=print, steps=[])
    assert backup is not None
    Ticket.objects.update(complaint_words="Written since")
    call_command("upgrade", back=True)
    assert Ticket.objects.values().get() == before
    assert "Put the code of version" in capsys.readouterr().out
    (since,) = Path(shop_settings.BACKUP_DIR).glob("*-before-back.zip")
    restore_backup(since, replace=True)
    assert Ticket.objects.get().complaint_words == "Written since"


def test_without_an_upgrade_or_with_a_broken_backup_there_is_no_way_back(machine: Path) -> None:
    with pytest.raises(CommandError, match="no backup from before an upgrade"):
        call_command("upgrade", back=True)
    backup = upgrade(say=print, steps=[])
    assert backup is not None
    backup.write_bytes(backup.read_bytes()[:500])
    with pytest.raises(CommandError, match=r"was not put back.*Nothing was changed"):
        call_command("upgrade", back=True)
    assert Ticket.objects.count() == 1
    assert list(Path(shop_settings.BACKUP_DIR).glob("*-before-back.zip")) == []
