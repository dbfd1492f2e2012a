"""Uploaded tracks: one GPX file, or a zip of many, opened within limits. No Django."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
import zlib
from dataclasses import dataclass, field
from typing import IO

from workshop.intervals.gpx import MOST_BYTES, MOST_POINTS, GpxRefused, RideRead, rides_in
from workshop.web.plain_text import short_name

MOST_UPLOADED_BYTES = 50 * 1024 * 1024
MOST_UNPACKED_BYTES = 200 * 1024 * 1024
MOST_FILES = 400
_ZIP_START = b"PK"


@dataclass
class TracksRead:
    """Rides of an upload, and what was refused in it, each with its reason."""

    rides: list[RideRead] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


def read_upload(file: IO[bytes], *, name: str, now: dt.datetime, most_points: int = MOST_POINTS) -> TracksRead:
    """The rides in an uploaded GPX file or zip. In a zip, a bad file does not spoil the others.

    Raises:
        GpxRefused: the upload as a whole is too large, no GPX and no zip, or nothing in it can be counted.
    """
    data = file.read(MOST_UPLOADED_BYTES + 1)
    if len(data) > MOST_UPLOADED_BYTES:
        raise GpxRefused(f"{name} is larger than {MOST_UPLOADED_BYTES // 1024 // 1024} MB. Send fewer rides at once.")
    if not data.startswith(_ZIP_START):
        return TracksRead(rides_in(data, name=name, now=now, most_points=most_points))
    found = _in_zip(data, name, now, most_points)
    if not found.rides:
        reason = found.refused[0] if found.refused else f"{name} holds no GPX file."
        raise GpxRefused(f"Nothing in {name} could be counted. {reason}")
    return found


def _in_zip(data: bytes, name: str, now: dt.datetime, most_points: int) -> TracksRead:
    found = TracksRead()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = [member for member in archive.infolist() if member.filename.lower().endswith(".gpx")]
            if len(members) > MOST_FILES:
                raise GpxRefused(f"{name} holds more than {MOST_FILES} tracks. Send fewer rides at once.")
            _read_members(archive, members, name, now, most_points, found)
    except (zipfile.BadZipFile, NotImplementedError, zlib.error, EOFError):
        raise GpxRefused(f"{name} is a broken zip file. Pack it again.") from None
    except RuntimeError:
        raise GpxRefused(f"{name} asks for a password. Pack it without one.") from None
    return found


def _read_members(
    archive: zipfile.ZipFile,
    members: list[zipfile.ZipInfo],
    name: str,
    now: dt.datetime,
    points_left: int,
    found: TracksRead,
) -> None:
    unpacked = 0
    for member in members:
        short = short_name(member.filename.rsplit("/", 1)[-1])
        # What the zip says of the size is not believed: no more than the limit is ever unpacked.
        with archive.open(member) as packed:
            content = packed.read(MOST_BYTES + 1)
        unpacked += len(content)
        if unpacked > MOST_UNPACKED_BYTES:
            raise GpxRefused(f"{name} unpacks to more than {MOST_UNPACKED_BYTES // 1024 // 1024} MB. It was not read.")
        try:
            found.rides += rides_in(content, name=short, now=now, most_points=points_left)
        except GpxRefused as refused:
            found.refused.append(str(refused))
        points_left = max(points_left - content.count(b"<trkpt"), 0)
