"""Whether the shop's folders take what is written, how much room there is, and whether fonts and styles are there."""

from __future__ import annotations

import errno
import re
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.template.defaultfilters import filesizeformat

from workshop.running.backup_place import backup_place
from workshop.running.preflight.findings import Purpose, StartFinding

LEAST_FREE_BYTES = 2 * 1024**3
_TRIED_BYTES = 4096
_STYLES = ("css/base.css", "css/fonts.css", "documents/document.css")
_NAMED = re.compile(r"""url\(["']?([^"')]+)["']?\)""")


def why_not_writable(folder: Path) -> str:
    """Why nothing can be written into a folder, tried with a file that is gone at once; empty where it can."""
    try:
        with tempfile.TemporaryFile(dir=folder, buffering=0) as tried:
            tried.write(b"\0" * _TRIED_BYTES)
    except OSError as error:
        return os_error_in_words(error)
    return ""


def os_error_in_words(error: OSError) -> str:
    """What the disk said."""
    if error.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}:
        return "the disk is full"
    if error.errno == errno.EROFS:
        return "the disk is read-only"
    if error.errno in {errno.EACCES, errno.EPERM}:
        return "the user that runs this may not write there"
    return error.strerror or type(error).__name__


def folders(purpose: Purpose) -> Iterator[StartFinding]:
    """Data, photos, collected static files, backups: those that are there already."""
    data = Path(settings.DATA_DIR)
    wanted = [("Data folder", data, True)]
    if not settings.FILES_BUCKET:
        wanted.append(("Photos and documents", Path(settings.MEDIA_ROOT), True))
    if purpose in {Purpose.SERVE, Purpose.UPGRADE, Purpose.CHECK}:
        wanted.append(("Static files", Path(settings.STATIC_ROOT), True))
    if purpose in {Purpose.BACKUP, Purpose.CHECK, Purpose.PAGE} and not backup_place().is_away:
        wanted.append(("Backup folder", backup_place().folder, False))
    may_stop = purpose in {Purpose.SERVE, Purpose.UPGRADE, Purpose.RESTORE}
    for subject, folder, stops in wanted:
        if folder.exists() and not folder.is_dir():
            todo = "Move that file away; the folder is made anew."
            yield StartFinding(subject, f"{folder} is a file where a folder should be.", todo, stops and may_stop)
        elif folder.is_dir() and (why := why_not_writable(folder)):
            todo = "Make room, or let the user that the shop runs as write there."
            yield StartFinding(subject, f"Nothing can be written to {folder}: {why}.", todo, stops and may_stop)


def room(purpose: Purpose) -> Iterator[StartFinding]:
    """A disk that will soon be full; one that is full is told by `folders`."""
    seen: set[int] = set()
    for folder in (Path(settings.DATA_DIR), backup_place().folder, Path(tempfile.gettempdir())):
        if not folder.is_dir() or folder.stat().st_dev in seen:
            continue
        seen.add(folder.stat().st_dev)
        usage = shutil.disk_usage(folder)
        if is_low(usage.free, usage.total):
            yield StartFinding(
                "Disk",
                f"{filesizeformat(usage.free)} of {filesizeformat(usage.total)} are free where {folder} is.",
                "Make room soon: a full disk takes no ticks, no photos and no backup.",
            )


def is_low(free: int, total: int) -> bool:
    return free < LEAST_FREE_BYTES or free < 0.03 * total


def fonts_and_styles(purpose: Purpose) -> Iterator[StartFinding]:
    """What pages and papers are drawn with: each style sheet, and each font one names."""
    missing = []
    for root in map(Path, settings.STATICFILES_DIRS):
        for sheet in (root / name for name in _STYLES):
            if not _is_there(sheet):
                missing.append(sheet)
                continue
            named = _NAMED.findall(sheet.read_text(encoding="utf-8"))
            files = [(sheet.parent / name).resolve() for name in named if not name.startswith(("data:", "#", "http"))]
            missing += [file for file in files if not _is_there(file)]
    if missing:
        names = ", ".join(str(file) for file in dict.fromkeys(missing))
        yield StartFinding(
            "Fonts and styles",
            f"Missing or empty: {names}.",
            "Put the code of this version in place again, whole.",
            stops=purpose in {Purpose.SERVE, Purpose.UPGRADE},
        )


def _is_there(file: Path) -> bool:
    try:
        return file.stat().st_size > 0
    except OSError:
        return False
