"""Files that are cut short, altered, hostile or of a newer version are refused in words, and change nothing."""

from __future__ import annotations

import copy
import hashlib
import json
import shutil
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connections

from tests.running.machines import empty_machine, make_tables_at_once
from tests.running.restoring import restore_backup
from workshop.models import Photo, Ticket
from workshop.running import checking, loading
from workshop.running.backup import make_backup
from workshop.running.checking import check_backup
from workshop.running.manifest import BackupRefused, is_safe_name
from workshop.running.restore import shop_is_empty

Parts = dict[str, bytes]
MANIFEST = "manifest.json"


_made: list[bytes] = []


@pytest.fixture
def backup(shop: Ticket, tmp_path: Path) -> Path:
    """A copy of one that was made of the same small shop: how it is made is tested elsewhere, here what reads it."""
    if not _made:
        _made.append(make_backup(folder=tmp_path / "once").path.read_bytes())
    path = tmp_path / "backup.zip"
    path.write_bytes(_made[0])
    return path


def parts_of(path: Path) -> Parts:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def written(path: Path, parts: Parts) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def with_manifest(parts: Parts, change: Callable[[dict[str, Any]], None]) -> Parts:
    manifest = json.loads(parts[MANIFEST])
    change(manifest)
    return {**parts, MANIFEST: json.dumps(manifest).encode()}


def with_table(parts: Parts, label: str, lines: bytes) -> Parts:
    """A table changed by somebody who also put its digest right."""

    def change(manifest: dict[str, Any]) -> None:
        manifest["tables"][label]["sha256"] = hashlib.sha256(lines).hexdigest()
        manifest["tables"][label]["rows"] = lines.count(b"\n")

    return with_manifest({**parts, f"tables/{label}.jsonl": lines}, change)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_file_cut_short(backup: Path, share: float) -> None:
    content = backup.read_bytes()
    backup.write_bytes(content[: int(len(content) * share)])
    with pytest.raises(BackupRefused, match="cut short or damaged"):
        check_backup(backup)


def test_a_file_that_is_something_else(tmp_path: Path) -> None:
    (tmp_path / "letter.zip").write_text("Dear shop, " * 100)
    with pytest.raises(BackupRefused, match="not a backup"):
        check_backup(tmp_path / "letter.zip")
    with pytest.raises(BackupRefused, match="not a backup"):
        check_backup(written(tmp_path / "other.zip", {"readme.txt": b"hello"}))
    with pytest.raises(BackupRefused, match="cannot be read: No such file"):
        check_backup(tmp_path / "missing.zip")


def test_any_single_byte_changed(backup: Path) -> None:
    """Every kind of place in the file; those that carry nothing are dates and the like of the zip format."""
    whole, facts = backup.read_bytes(), check_backup(backup)
    refused = 0
    places = range(0, len(whole), max(1, len(whole) // 150))
    for place in places:
        backup.write_bytes(whole[:place] + bytes([whole[place] ^ 0x5A]) + whole[place + 1 :])
        try:
            assert check_backup(backup) == facts
        except BackupRefused:
            refused += 1
    assert refused > 0.5 * len(places)


def test_a_photo_that_is_another(backup: Path, tmp_path: Path) -> None:
    parts = parts_of(backup)
    name = f"files/{Photo.objects.get().file.name}"
    for other in (b"\xff\xd8 another!", b"\xff\xd8", b"\xff\xd8 a picture and more"):
        with pytest.raises(BackupRefused, match="not the one that was backed up"):
            check_backup(written(tmp_path / "changed.zip", {**parts, name: other}))


def test_a_table_with_a_row_less(backup: Path, tmp_path: Path) -> None:
    parts = parts_of(backup)
    with pytest.raises(BackupRefused, match=r"table workshop\.ticket in it is not the one"):
        check_backup(written(tmp_path / "changed.zip", {**parts, "tables/workshop.ticket.jsonl": b""}))


def test_another_key(backup: Path, tmp_path: Path) -> None:
    with pytest.raises(BackupRefused, match="secret key in it"):
        check_backup(written(tmp_path / "changed.zip", {**parts_of(backup), "secret_key": b"known to somebody"}))


NAMES_THAT_LEAD_ELSEWHERE = [
    "../outside.jpg", "photos/../../outside.jpg", "/etc/passwd", "photos//x.jpg", "./x.jpg", "photos\\..\\x.jpg",
    "C:/x.jpg", "photos/x\x00.jpg", "photos/x\n.jpg", ".htaccess", "photos/.x", "", ".", "..", "photos/", "x" * 300,
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES_THAT_LEAD_ELSEWHERE)
def test_a_name_that_leads_elsewhere(backup: Path, tmp_path: Path, name: str) -> None:
    assert not is_safe_name(name)
    facts = {"bytes": 1, "sha256": hashlib.sha256(b"x").hexdigest()}

    def change(manifest: dict[str, Any]) -> None:
        manifest["files"][name] = facts

    parts = with_manifest(parts_of(backup), change)
    with pytest.raises(BackupRefused, match="leads elsewhere"):
        check_backup(written(tmp_path / "hostile.zip", {**parts, f"files/{name}": b"x"}))


def test_a_part_that_no_manifest_lists(backup: Path, tmp_path: Path) -> None:
    parts = parts_of(backup)
    with pytest.raises(BackupRefused, match=r"not what its manifest lists, such as '\.\./\.\./evil'"):
        check_backup(written(tmp_path / "hostile.zip", {**parts, "../../evil": b"x"}))
    missing = {name: content for name, content in parts.items() if name != "tables/workshop.ticket.jsonl"}
    with pytest.raises(BackupRefused, match="not what its manifest lists"):
        check_backup(written(tmp_path / "hostile.zip", missing))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_parts_of_one_name(backup: Path) -> None:
    with zipfile.ZipFile(backup, "a") as archive:
        archive.writestr("tables/workshop.ticket.jsonl", b"{}\n")
    with pytest.raises(BackupRefused, match="two parts of the same name"):
        check_backup(backup)


@pytest.mark.parametrize(
    "manifest",
    [
        b"", b"[]", b"null", b"{}", b'{"layout": 1}', b'{"layout": true}', b"[" * 100_000, b"\xff\xfe",
        b'{"layout": 1, "made_at": "", "app_version": "", "database": "", "migrations": 5, "tables": {}, "files": {}}',
    ],
)  # fmt: skip
def test_a_manifest_that_makes_no_sense(backup: Path, tmp_path: Path, manifest: bytes) -> None:
    with pytest.raises(BackupRefused, match="manifest is damaged"):
        check_backup(written(tmp_path / "changed.zip", {**parts_of(backup), MANIFEST: manifest}))


@pytest.mark.parametrize("facts", [{"rows": -1}, {"rows": "many"}, {"rows": True}, {"sha256": "0" * 63}, {"sha256": 7}])
def test_facts_that_make_no_sense(backup: Path, tmp_path: Path, facts: dict[str, Any]) -> None:
    parts = with_manifest(parts_of(backup), lambda manifest: manifest["tables"]["workshop.shop"].update(facts))
    with pytest.raises(BackupRefused, match="manifest is damaged"):
        check_backup(written(tmp_path / "changed.zip", parts))


def test_a_newer_layout(backup: Path, tmp_path: Path) -> None:
    parts = with_manifest(parts_of(backup), lambda manifest: manifest.update(layout=3, app_version="9.1"))
    with pytest.raises(BackupRefused, match=r"newer version of this app \(9\.1\)"):
        check_backup(written(tmp_path / "newer.zip", parts))


def test_a_manifest_that_unpacks_to_far_more_than_the_file(backup: Path, tmp_path: Path) -> None:
    """16 kB on the disk, 16 MB in memory."""
    bomb = written(tmp_path / "bomb.zip", {**parts_of(backup), MANIFEST: b" " * (16 << 20) + b"{}"})
    assert bomb.stat().st_size < 1 << 20
    with pytest.raises(BackupRefused, match="manifest is larger"):
        check_backup(bomb)


@pytest.fixture
def untouched(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing but the manifest is unpacked."""
    unpack = zipfile.ZipFile.open

    def watched(archive: zipfile.ZipFile, name: Any, *args: Any, **more: Any) -> Any:
        assert str(getattr(name, "filename", name)) == MANIFEST, f"{name} was unpacked"
        return unpack(archive, name, *args, **more)

    monkeypatch.setattr(zipfile.ZipFile, "open", watched)


def bomb_of(size: int) -> tuple[dict[str, Any], bytes]:
    lines = (b" " * 1021 + b"{}\n") * (size // 1024)
    return {"rows": size // 1024, "sha256": hashlib.sha256(lines).hexdigest(), "rows_sha256": "0" * 64}, lines


@pytest.fixture
def strict(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is small in any case is smaller here, so that the bombs can be small too."""
    monkeypatch.setattr(checking, "_SMALL", 1 << 20)


@pytest.mark.usefixtures("strict")
def test_a_table_that_unpacks_to_a_thousand_times_its_size(backup: Path, tmp_path: Path, request: Any) -> None:
    facts, lines = bomb_of(64 << 20)
    parts = with_manifest(parts_of(backup), lambda manifest: manifest["tables"].update({"workshop.ticket": facts}))
    bomb = written(tmp_path / "bomb.zip", {**parts, "tables/workshop.ticket.jsonl": lines})
    assert bomb.stat().st_size < 1 << 20
    request.getfixturevalue("untouched")
    with pytest.raises(BackupRefused, match="would unpack to 64 MB"):
        check_backup(bomb)


@pytest.mark.usefixtures("strict")
def test_parts_that_share_their_bytes(backup: Path, tmp_path: Path, request: Any) -> None:
    """Many entries of the list point at one part, so that a small file claims to be a large one."""
    content = bytes(2 << 20)
    names = [f"photos/{number}.jpg" for number in range(40)]
    facts = {"bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()}
    parts = with_manifest(
        {**parts_of(backup), f"files/{names[0]}": content},
        lambda manifest: manifest["files"].update(dict.fromkeys(names, facts)),
    )
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
        first = archive.getinfo(f"files/{names[0]}")
        for name in names[1:]:
            again = copy.copy(first)
            again.filename = again.orig_filename = f"files/{name}"
            archive.filelist.append(again)
            archive.NameToInfo[again.filename] = again
    request.getfixturevalue("untouched")
    with pytest.raises(BackupRefused, match="would unpack to 80 MB"):
        check_backup(bomb)


def test_more_parts_than_any_shop_has(backup: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted before the list of them is read: it takes more memory than disk."""
    path = written(tmp_path / "many.zip", {**parts_of(backup), **{f"files/{n}.jpg": b"" for n in range(300)}})
    monkeypatch.setattr(checking, "MOST_PARTS", 200)
    monkeypatch.setattr(zipfile, "ZipInfo", lambda *args: pytest.fail("the list of parts was read"))
    with pytest.raises(BackupRefused, match="more parts than any shop"):
        check_backup(path)


def test_counts_that_the_parts_cannot_hold(backup: Path, tmp_path: Path, request: Any) -> None:
    """A manifest that declares rows and sizes which are not there is refused by the list of parts alone."""
    parts, photo = parts_of(backup), Photo.objects.get().file.name
    changes: list[Callable[[dict[str, Any]], None]] = [
        lambda manifest: manifest["tables"]["workshop.ticket"].update(rows=10**15),
        lambda manifest: manifest["files"][photo].update(bytes=10**15),
        lambda manifest: manifest["files"][photo].update(bytes=1),
    ]
    paths = [written(tmp_path / f"{n}.zip", with_manifest(parts, change)) for n, change in enumerate(changes)]
    request.getfixturevalue("untouched")
    for path in paths:
        with pytest.raises(BackupRefused, match="another size than its manifest says"):
            check_backup(path)


@pytest.mark.parametrize("mode", [stat.S_IFLNK | 0o777, stat.S_IFDIR | 0o700, stat.S_IFIFO | 0o600, stat.S_IFCHR])
def test_a_part_that_is_no_plain_file(backup: Path, tmp_path: Path, mode: int, request: Any) -> None:
    parts, photo = parts_of(backup), f"files/{Photo.objects.get().file.name}"
    path = tmp_path / "link.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            info = zipfile.ZipInfo(name)
            info.external_attr = (mode if name == photo else stat.S_IFREG | 0o600) << 16
            archive.writestr(info, content)
    request.getfixturevalue("untouched")
    with pytest.raises(BackupRefused, match="is no plain file"):
        check_backup(path)


def test_a_link_is_not_restored(backup: Path, refusal: Callable[[Path], str], tmp_path: Path) -> None:
    path = tmp_path / "link.zip"
    parts, photo = parts_of(backup), f"files/{Photo.objects.get().file.name}"
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            info = zipfile.ZipInfo(name)
            info.external_attr = ((stat.S_IFLNK if name == photo else stat.S_IFREG) | 0o600) << 16
            archive.writestr(info, b"/etc/passwd" if name == photo else content)
    assert "is no plain file" in refusal(path)


def test_what_does_not_fit_on_the_disk_is_not_unpacked(
    backup: Path, refusal: Callable[[Parts], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows take room as well as files."""
    facts, lines = bomb_of(30 << 20)
    parts = with_manifest(parts_of(backup), lambda manifest: manifest["tables"].update({"workshop.ticket": facts}))
    monkeypatch.setattr(shutil, "disk_usage", lambda path: shutil._ntuple_diskusage(1 << 40, 1 << 40, 70 << 20))
    assert "not enough room" in refusal({**parts, "tables/workshop.ticket.jsonl": lines})


@pytest.fixture
def refusal(settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[Parts | Path], str]:
    """Restore these parts on an empty machine: what the command says, after looking that the machine is still empty."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)

    def restore(parts: Parts | Path) -> str:
        path = parts if isinstance(parts, Path) else written(tmp_path / "hostile.zip", parts)
        with empty_machine(settings, tmp_path / "other") as folder:
            with pytest.raises(CommandError) as refused:
                call_command("restore", path)
            assert shop_is_empty()
            assert not {path.name for path in folder.iterdir()} - {"in_use.lock", "shop.sqlite3"}
            assert connections["default"].introspection.table_names() == []
        assert "Nothing was changed" in str(refused.value)
        return str(refused.value)

    return restore


def test_a_newer_database(backup: Path, refusal: Callable[[Parts], str]) -> None:
    change = lambda manifest: manifest["migrations"]["workshop"].append("9999_next_year")  # noqa: E731
    said = refusal(with_manifest(parts_of(backup), change))
    assert "newer version" in said
    assert "workshop 9999_next_year" in said


def test_a_table_that_this_version_does_not_have(backup: Path, refusal: Callable[[Parts], str]) -> None:
    parts = {**parts_of(backup), "tables/workshop.spy.jsonl": b""}
    empty = hashlib.sha256(b"").hexdigest()
    facts = {"rows": 0, "sha256": empty, "rows_sha256": empty}
    assert "workshop.spy" in refusal(
        with_manifest(parts, lambda manifest: manifest["tables"].update({"workshop.spy": facts}))
    )


@pytest.mark.parametrize(
    ("lines", "complaint"),
    [
        (b"no JSON\n", "is not JSON"),
        (b"[1, 2]\n", "columns are not those"),
        (b'{"id": 1, "name); DROP TABLE workshop_shop; --": 2}\n', "columns are not those"),
        (b"[" * 100_000 + b"\n", "is not JSON"),
    ],
)
def test_a_row_that_is_none(backup: Path, refusal: Callable[[Parts], str], lines: bytes, complaint: str) -> None:
    assert complaint in refusal(with_table(parts_of(backup), "workshop.shop", lines))


@pytest.mark.parametrize(
    ("column", "value"),
    [("id", "x"), ("booked_at", "yesterday"), ("number", {"a": 1}), ("number", -1), ("state", "lost")],
)
def test_a_value_that_its_column_cannot_hold(
    backup: Path, refusal: Callable[[Parts], str], column: str, value: Any
) -> None:
    parts = parts_of(backup)
    row = json.loads(parts["tables/workshop.ticket.jsonl"])
    row[column] = value
    said = refusal(with_table(parts, "workshop.ticket", json.dumps(row).encode() + b"\n"))
    assert "workshop.ticket" in said


def test_a_row_that_refers_to_nothing(backup: Path, refusal: Callable[[Parts], str]) -> None:
    assert "refers to another that is not in it" in refusal(with_table(parts_of(backup), "workshop.customer", b""))


def test_rows_that_read_back_differently(backup: Path, refusal: Callable[[Parts], str]) -> None:
    """Altered by somebody who put every digest right but the one of what the database holds."""
    parts = parts_of(backup)
    row = json.loads(parts["tables/workshop.ticket.jsonl"])
    row["complaint_words"] = "Something else"
    assert "reads back differently" in refusal(with_table(parts, "workshop.ticket", json.dumps(row).encode() + b"\n"))


def test_the_untouched_parts_are_taken(
    backup: Path, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The counter-check of this module: written anew without a change, the same parts restore."""
    monkeypatch.setattr(loading, "make_tables", make_tables_at_once)
    path = written(tmp_path / "same.zip", parts_of(backup))
    with empty_machine(settings, tmp_path / "other"):
        restore_backup(path)
        assert Ticket.objects.count() == 1
