"""Where backups are kept, chosen on the screen: made and read back there first, and never on the wrong disk."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from tests.factories import UserFactory
from workshop.models import Ticket
from workshop.running import backup_place
from workshop.running.backup_place import FolderChangedMeanwhile, choose_folder
from workshop.running.checking import check_backup

PAGE = "office:backups"


@pytest.fixture
def away(tmp_path: Path) -> Path:
    folder = tmp_path / "another disk"
    folder.mkdir()
    return folder


@pytest.fixture
def owner(client: Client, shop: Ticket) -> Client:
    client.force_login(UserFactory.create(shop=shop.shop, owner=True))
    return client


def typed(folder: object, settings: Any) -> dict[str, str]:
    return {"folder": str(folder), "seen": str(backup_place.backup_place().folder)}


def test_a_backup_is_made_and_read_back_before_the_folder_is_kept(owner: Client, away: Path, settings: Any) -> None:
    answer = owner.post(reverse(PAGE), typed(away, settings), follow=True)
    assert "was made and read back" in answer.content.decode()
    (made,) = away.iterdir()
    assert check_backup(made).rows > 0
    kept = backup_place.backup_place()
    assert (kept.folder, kept.chosen, kept.is_away) == (away, True, False)
    assert (Path(settings.DATA_DIR) / "backup_folder.json").stat().st_mode & 0o777 == 0o600
    call_command("backup")  # the nightly one
    assert owner.post(reverse(PAGE), {"now": "1"}).status_code == 302
    assert len(list(away.iterdir())) >= 1
    assert not Path(settings.BACKUP_DIR).exists()


@pytest.mark.parametrize(
    ("folder", "said"),
    [
        ("", "Enter this."),
        ("backups", "Enter the whole path"),
        ("/", "Enter the whole path"),
        ("/tmp/../etc", "Enter the whole path"),  # noqa: S108  goes nowhere
        ("/no/such/folder", "There is no such folder"),
        ("DATA", "among the shop’s data"),
        ("DATA/files", "among the shop’s data"),
    ],
)
def test_what_is_no_place_for_backups(owner: Client, settings: Any, folder: str, said: str) -> None:
    data = Path(settings.DATA_DIR)
    (data / "files").mkdir(exist_ok=True)
    answer = owner.post(reverse(PAGE), typed(folder.replace("DATA", str(data)), settings))
    assert answer.status_code == 422
    assert said in str(answer.context["form"].errors["folder"]).replace("&#x27;", "’")
    assert not backup_place.backup_place().chosen


def test_a_backup_that_fails_keeps_no_folder(
    owner: Client, away: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr("workshop.running.backup.os.fsync", full)
    answer = owner.post(reverse(PAGE), typed(away, settings))
    assert answer.status_code == 422
    assert "No space left on device" in str(answer.context["form"].errors["folder"])
    assert (list(away.iterdir()), backup_place.backup_place().chosen) == ([], False)


def test_a_disk_that_is_not_connected_gets_no_backup(
    owner: Client, away: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is left of it is an empty folder on the disk of the data."""
    monkeypatch.setattr(backup_place, "shares_disk", lambda folder: False)
    owner.post(reverse(PAGE), typed(away, settings))
    monkeypatch.setattr(backup_place, "shares_disk", lambda folder: True)
    before = sorted(away.iterdir())
    with pytest.raises(CommandError, match="Is its disk connected"):
        call_command("backup")
    assert "Is its disk connected" in owner.post(reverse(PAGE), {"now": "1"}, follow=True).content.decode()
    assert "Its disk is not connected" in owner.get(reverse("office:system")).content.decode()
    assert sorted(away.iterdir()) == before


def test_two_owners_choose_at_once(owner: Client, away: Path, tmp_path: Path, settings: Any) -> None:
    mine = typed(tmp_path, settings)
    choose_folder(typed=str(away), seen=str(settings.BACKUP_DIR))
    late = owner.post(reverse(PAGE), mine)
    assert late.status_code == 409
    assert f"Another owner chose {away} meanwhile" in str(late.context["form"].errors["folder"])
    assert backup_place.backup_place().folder == away
    with pytest.raises(FolderChangedMeanwhile):
        choose_folder(typed=str(tmp_path), seen=str(settings.BACKUP_DIR))


def test_what_the_environment_sets_has_no_field(
    owner: Client, away: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BACKUP_DIR", str(settings.BACKUP_DIR))
    page = owner.get(reverse(PAGE)).content.decode()
    assert "set on the server by BACKUP_DIR" in page
    assert 'name="folder"' not in page
    assert owner.post(reverse(PAGE), typed(away, settings)).status_code == 422
    assert list(away.iterdir()) == []
    assert owner.post(reverse(PAGE), {"now": "1"}).status_code == 302
    assert len(list(Path(settings.BACKUP_DIR).iterdir())) == 1
