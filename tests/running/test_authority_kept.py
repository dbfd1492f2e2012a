"""What the shop's tablets trust goes with the shop: another machine that is given the backup is trusted by them too."""

from __future__ import annotations

import datetime as dt
import zipfile
from pathlib import Path
from typing import Any

import pytest

from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from tests.running.test_refused_backups import parts_of, with_manifest, written
from workshop.models import Ticket
from workshop.running import loading
from workshop.running.backup import make_backup
from workshop.running.checking import check_backup
from workshop.running.manifest import BackupRefused
from workshop.shop_network import server_certificate
from workshop.shop_network.authority import FILE, Authority, load_or_make_authority
from workshop.shop_network.served import FOLDER

NOW = dt.datetime.now(dt.UTC)
HOSTS = ["workshop.local"]


@pytest.fixture
def authority(data_dir: Path) -> Authority:
    """The shop was served in its network."""
    found = load_or_make_authority(data_dir / FOLDER, now=NOW)
    server_certificate.renew(data_dir / FOLDER, found, HOSTS, now=NOW)
    return found


@pytest.fixture
def backup(shop: Ticket, authority: Authority, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    return make_backup(folder=tmp_path / "backups").path


def test_another_machine_is_trusted_by_the_same_tablets(
    backup: Path, authority: Authority, settings: Any, tmp_path: Path
) -> None:
    with zipfile.ZipFile(backup) as archive:
        assert not any("server" in name or "served" in name for name in archive.namelist())  # made anew there
    with empty_machine(settings, tmp_path / "other") as folder:
        restore_backup(backup)
        assert (folder / FOLDER / FILE).stat().st_mode & 0o777 == 0o600
        assert (folder / FOLDER).stat().st_mode & 0o777 == 0o700
        there = load_or_make_authority(folder / FOLDER, now=NOW)
        assert there.root == authority.root
        assert "there is none" in server_certificate.renew(folder / FOLDER, there, HOSTS, now=NOW)


def test_a_machine_with_an_authority_of_its_own_takes_that_of_the_backup(
    backup: Path, authority: Authority, settings: Any, tmp_path: Path
) -> None:
    with empty_machine(settings, tmp_path / "other") as folder:
        own = load_or_make_authority(folder / FOLDER, now=NOW)
        server_certificate.renew(folder / FOLDER, own, HOSTS, now=NOW)
        restore_backup(backup)
        there = load_or_make_authority(folder / FOLDER, now=NOW)
        assert there.root == authority.root != own.root
        assert "another authority" in server_certificate.renew(folder / FOLDER, there, HOSTS, now=NOW)


def test_a_backup_without_one_leaves_that_of_the_machine(
    shop: Ticket, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    made = make_backup(folder=tmp_path / "backups")
    assert (made.manifest.layout, made.manifest.authority_sha256) == (1, "")  # older versions read it, too
    with empty_machine(settings, tmp_path / "other") as folder:
        own = load_or_make_authority(folder / FOLDER, now=NOW)
        restore_backup(made.path)
        assert load_or_make_authority(folder / FOLDER, now=NOW).root == own.root


def test_another_authority_in_it_is_refused(backup: Path, tmp_path: Path) -> None:
    assert check_backup(backup).layout == 2
    parts = parts_of(backup)
    with pytest.raises(BackupRefused, match="authority in it is not the one"):
        check_backup(written(tmp_path / "changed.zip", {**parts, "authority.pem": b"known to somebody"}))
    without = with_manifest(parts, lambda manifest: manifest.update(authority_sha256=""))
    with pytest.raises(BackupRefused, match=r"authority\.pem"):
        check_backup(written(tmp_path / "stray.zip", without))
