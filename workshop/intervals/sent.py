"""Tracks that somebody sent: read apart from what answers requests, and within its limits."""

from __future__ import annotations

import datetime as dt
import io
from typing import IO

from workshop.apart.kinds import TRACKS
from workshop.apart.working import NotDone, TooBusy, work_apart
from workshop.intervals.gpx import MOST_POINTS, GpxRefused
from workshop.intervals.uploads import MOST_UPLOADED_BYTES, TracksRead, read_upload


class TracksWait(GpxRefused):
    """That others' tracks are being read; nothing is wrong with these."""


def read_sent_tracks(file: IO[bytes], *, name: str, now: dt.datetime, most_points: int = MOST_POINTS) -> TracksRead:
    """As `read_upload`.

    Raises:
        GpxRefused: what `read_upload` refuses, or that it took too much; TracksWait while too many others wait.
    """
    data = file.read(MOST_UPLOADED_BYTES + 1)
    try:
        return work_apart(TRACKS, _read, data, name, now, most_points)
    except TooBusy as busy:
        raise TracksWait(str(busy)) from busy
    except NotDone as reason:
        raise GpxRefused(str(reason)) from reason


def _read(data: bytes, name: str, now: dt.datetime, most_points: int) -> TracksRead:
    return read_upload(io.BytesIO(data), name=name, now=now, most_points=most_points)
