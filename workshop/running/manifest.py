"""What a backup says about itself, and the refusal of one that does not make sense.

A backup is a zip file, layout 1, or 2 where it has an authority:

    manifest.json                  this module
    tables/<app>.<table>.jsonl     a row a line, columns by name; times in UTC, decimals and UUIDs as text
    files/<name>                   photos and documents, named as the rows name them
    secret_key                     only where the key is a file of the shop's own
    authority.pem                  what the shop's tablets trust, where the shop was served in its own network
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import PurePosixPath
from typing import Any

from workshop.running.tables import MigrationNames

LAYOUT, WITH_AUTHORITY = 1, 2
MANIFEST, SECRET_KEY, AUTHORITY = "manifest.json", "secret_key", "authority.pem"
_LABEL = re.compile(r"[a-z][a-z0-9]*\.[a-z][a-z0-9_]*", re.ASCII)
_DIGEST = re.compile(r"[0-9a-f]{64}", re.ASCII)
_LONGEST_NAME = 255


class BackupRefused(Exception):
    """The file is no backup that can be trusted or used here; the message says why."""


@dataclass(frozen=True)
class TableFacts:
    """A table's rows, the digest of its lines, and the digest of its rows that every database agrees on."""

    rows: int
    sha256: str
    rows_sha256: str


@dataclass(frozen=True)
class FileFacts:
    """Size and digest of a photo or document."""

    bytes: int
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """Counts and digests of all that is in a backup, and the state of the code that made it."""

    made_at: str
    app_version: str
    database: str
    migrations: MigrationNames
    tables: dict[str, TableFacts]
    files: dict[str, FileFacts]
    missing_files: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    key_fingerprint: str = ""
    key_sha256: str = ""  # empty: the key is not in the backup
    authority_sha256: str = ""  # empty: there is none in the backup
    layout: int = LAYOUT

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())

    @property
    def file_bytes(self) -> int:
        return sum(file.bytes for file in self.files.values())

    def members(self) -> set[str]:
        """Names of everything that must be in the zip file, and nothing else."""
        names = {MANIFEST, *map(table_member, self.tables), *map(file_member, self.files)}
        names |= {SECRET_KEY} if self.key_sha256 else set()
        return names | ({AUTHORITY} if self.authority_sha256 else set())

    def to_json(self) -> bytes:
        return json.dumps(asdict(self), ensure_ascii=False, indent=1).encode()


def table_member(label: str) -> str:
    return f"tables/{label}.jsonl"


def file_member(name: str) -> str:
    return f"files/{name}"


def read_manifest(content: bytes) -> Manifest:
    """Read and judge a manifest. Raises BackupRefused."""
    try:
        found = json.loads(content)
        if not isinstance(found, dict):
            raise TypeError
        layout = found["layout"]
        if isinstance(layout, int) and layout > WITH_AUTHORITY:
            made_by = str(found.get("app_version", "?"))[:40]
            raise BackupRefused(
                f"It was made by a newer version of this app ({made_by}): its layout {layout} is not known here. "
                "Install that version first."
            )
        if type(layout) is not int or layout not in (LAYOUT, WITH_AUTHORITY):
            raise TypeError
        return _manifest(found)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise BackupRefused("Its manifest is damaged or was not written by this app.") from error


def is_safe_name(name: str) -> bool:
    """Whether a file's name stays in the folder it is put into."""
    path = PurePosixPath(name)
    return (
        bool(path.parts)
        and str(path) == name
        and not path.is_absolute()
        and ".." not in path.parts
        and len(name) <= _LONGEST_NAME
        and not any(ord(letter) < 32 or letter in '\\:*?"<>|' for letter in name)
        and not any(part.startswith(".") for part in path.parts)
    )


def _manifest(found: Mapping[str, Any]) -> Manifest:
    tables = {str(label): _table(facts) for label, facts in found["tables"].items()}
    files = {str(name): _file(facts) for name, facts in found["files"].items()}
    if not all(map(_LABEL.fullmatch, tables)):
        raise ValueError
    for name in files:
        if not is_safe_name(name):
            raise BackupRefused(f"A file in it has a name that leads elsewhere: {name[:80]!r}.")
    key_sha256, authority_sha256 = (str(found.get(name, "")) for name in ("key_sha256", "authority_sha256"))
    for digest in filter(None, (key_sha256, authority_sha256)):
        _digest(digest)
    return Manifest(
        made_at=str(found["made_at"]),
        app_version=str(found["app_version"]),
        database=str(found["database"]),
        migrations={str(app): [str(name) for name in names] for app, names in found["migrations"].items()},
        tables=tables,
        files=files,
        missing_files=[str(name) for name in found.get("missing_files", [])],
        left_out=[str(label) for label in found.get("left_out", [])],
        key_fingerprint=str(found.get("key_fingerprint", "")),
        key_sha256=key_sha256,
        authority_sha256=authority_sha256,
        layout=found["layout"],
    )


def _table(facts: Mapping[str, Any]) -> TableFacts:
    return TableFacts(_count(facts["rows"]), _digest(facts["sha256"]), _digest(facts["rows_sha256"]))


def _file(facts: Mapping[str, Any]) -> FileFacts:
    return FileFacts(_count(facts["bytes"]), _digest(facts["sha256"]))


def _count(value: Any) -> int:
    if type(value) is not int or value < 0:
        raise ValueError
    return value


def _digest(value: Any) -> str:
    if not isinstance(value, str) or not _DIGEST.fullmatch(value):
        raise ValueError
    return value
