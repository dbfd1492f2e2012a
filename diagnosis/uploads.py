"""The texts in an uploaded file or zip, with limits on what a stranger's file may cost. Pure."""

from __future__ import annotations

import io
import re
import stat
import zipfile
import zlib

MOST_BYTES = 1024 * 1024
"""Of a file, and of a zip as it is sent."""
MOST_FILES = 60
MOST_UNPACKED = 4 * 1024 * 1024
"""Of all files of a zip together."""
LONE_FILE = "the file"

_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.() -]{0,80}\.ya?ml")


class UnreadableUpload(ValueError):
    """Nothing in it can be looked at; says why."""


def texts_of(content: bytes) -> dict[str, str]:
    """Texts by file name: the files of a zip, or one file. Nothing is written to disk.

    Raises UnreadableUpload.
    """
    if len(content) > MOST_BYTES:
        raise UnreadableUpload(f"It is larger than {MOST_BYTES // 1024} KB.")
    if not content.strip():
        raise UnreadableUpload("It is empty.")
    if not content.startswith(b"PK"):
        return {LONE_FILE: _text(LONE_FILE, content)}
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return _unpacked(archive)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        if isinstance(error, UnreadableUpload):
            raise
        raise UnreadableUpload("The zip is damaged, or packed in a way that is not read here.") from error


def _unpacked(archive: zipfile.ZipFile) -> dict[str, str]:
    entries = [entry for entry in archive.infolist() if not entry.is_dir()]
    if not entries:
        raise UnreadableUpload("The zip is empty.")
    if len(entries) > MOST_FILES:
        raise UnreadableUpload(f"The zip holds more than {MOST_FILES} files.")
    texts: dict[str, str] = {}
    left = MOST_UNPACKED
    for entry in entries:
        _refuse_name(entry)
        if entry.filename in texts:
            raise UnreadableUpload(f"The zip holds “{entry.filename}” twice.")
        if entry.flag_bits & 0x1:
            raise UnreadableUpload("The zip is locked with a password.")
        with archive.open(entry) as packed:
            # What the zip says of its sizes may be a lie, so the bytes themselves are counted.
            content = packed.read(min(left, MOST_BYTES) + 1)
        left -= len(content)
        if len(content) > MOST_BYTES or left < 0:
            raise UnreadableUpload(f"“{entry.filename}” unpacks to more than is read here.")
        texts[entry.filename] = _text(entry.filename, content)
    return texts


def _refuse_name(entry: zipfile.ZipInfo) -> None:
    shown = entry.filename[:80]
    if stat.S_ISLNK(entry.external_attr >> 16):
        raise UnreadableUpload(f"“{shown}” in the zip is a link to another file.")
    if not _NAME.fullmatch(entry.filename):
        raise UnreadableUpload(f"“{shown}” in the zip is not a plain .yaml file at the top of it, outside any folder.")


def _text(name: str, content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableUpload(f"{name} is not UTF-8 text.") from error
