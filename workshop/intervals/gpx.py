"""Reading GPX 1.1 tracks into rides with their moving time. No Django.

The XML is read by a small expat reader that takes track points and nothing else: no document type, so no entity can
be declared or expanded, and nothing is ever fetched. What is moving and what is standing still is decided by gpxpy:
a leg at or under 1 km/h is standing still, and a leg of no length counts in neither.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from dataclasses import dataclass
from itertools import pairwise
from xml.parsers import expat

from gpxpy.gpx import GPXTrackPoint, GPXTrackSegment

NAMESPACES = ("http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0")
MOST_BYTES = 25 * 1024 * 1024
MOST_POINTS = 300_000
EARLIEST = dt.datetime(1990, 1, 1, tzinfo=dt.UTC)
LONGEST_RIDE = dt.timedelta(hours=36)
_DEEPEST = 40
_LONGEST_TEXT = 64
_DECIMAL_DEGREES = {"lat": 90.0, "lon": 180.0}


class GpxRefused(ValueError):
    """That a file is no track we can count; the message says why and what to do."""


@dataclass(frozen=True)
class RideRead:
    """One ride of a file: aware times of its first and last point, and its moving time in seconds."""

    began_at: dt.datetime
    ended_at: dt.datetime
    moving_s: float
    digest: str


def rides_in(
    data: bytes, *, name: str = "The file", now: dt.datetime, most_points: int = MOST_POINTS
) -> list[RideRead]:
    """The rides of a GPX file: one for each track, or for each of its segments where a track goes on for days.

    Args:
        name: what to call the file in messages.
        now: aware; a track from the future is refused.
        most_points: more track points than this are refused.

    Raises:
        GpxRefused: too large, not GPX, hostile, without times, or with times that run backwards.
    """
    if len(data) > MOST_BYTES:
        raise GpxRefused(f"{name} is larger than {MOST_BYTES // 1024 // 1024} MB. Send fewer rides at once.")
    reader = _Reader(name, most_points)
    reader.read(data)
    rides = [ride for track in reader.tracks for ride in _rides_of(track, name, now)]
    if not rides:
        raise GpxRefused(f"{name} holds no track with times. Export the ride as a GPX track, with its times.")
    return rides


def _rides_of(segments: list[GPXTrackSegment], name: str, now: dt.datetime) -> list[RideRead]:
    timed = [(segment, times) for segment in segments if len(times := _times_of(segment, name, now)) > 1]
    if not timed:
        return []
    first = min(times[0] for _, times in timed)
    last = max(times[-1] for _, times in timed)
    if last - first <= LONGEST_RIDE:
        return [_ride([segment for segment, _ in timed], [time for _, times in timed for time in times])]
    return [_ride([segment], times) for segment, times in timed]


def _ride(segments: list[GPXTrackSegment], times: list[dt.datetime]) -> RideRead:
    moving_s = sum(data.moving_time for segment in segments if (data := segment.get_moving_data()) is not None)
    spelled = "\n".join(time.isoformat() for time in times)
    return RideRead(min(times), max(times), moving_s, hashlib.sha256(spelled.encode()).hexdigest())


def _times_of(segment: GPXTrackSegment, name: str, now: dt.datetime) -> list[dt.datetime]:
    times = [point.time for point in segment.points if point.time is not None]
    for before, after in pairwise(times):
        if after < before:
            raise GpxRefused(
                f"In {name} time runs backwards: {after:%Y-%m-%d %H:%M:%S} comes after {before:%Y-%m-%d %H:%M:%S}. "
                "Export the ride again."
            )
    if times and (times[0] < EARLIEST or times[-1] > now + dt.timedelta(days=1)):
        odd = times[0] if times[0] < EARLIEST else times[-1]
        raise GpxRefused(f"{name} has a point of {odd:%Y-%m-%d}. The clock of the device was wrong.")
    return times


class _Reader:
    """An expat reader of track points. Everything else in the file is passed over."""

    def __init__(self, name: str, most_points: int) -> None:
        self.name, self.most_points = name, most_points
        self.tracks: list[list[GPXTrackSegment]] = []
        self._points = 0
        self._depth = 0
        self._namespace = ""
        self._point: GPXTrackPoint | None = None
        self._point_depth = 0
        self._text: list[str] | None = None

    def read(self, data: bytes) -> None:
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.StartDoctypeDeclHandler = self._no_doctype
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._characters
        parser.buffer_text = True
        try:
            parser.Parse(data, True)
        except (expat.ExpatError, LookupError) as error:
            raise GpxRefused(f"{self.name} is no GPX file, or it is broken: {error}.") from None
        except ValueError as error:
            if isinstance(error, GpxRefused):
                raise
            raise GpxRefused(f"{self.name} is written in an encoding that cannot be read. Export it again.") from None
        if not self._namespace:
            raise GpxRefused(f"{self.name} is no GPX file.")

    def _no_doctype(self, *_: object) -> None:
        raise GpxRefused(f"{self.name} declares a document type, which no GPX file needs. It was not read.")

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > _DEEPEST:
            raise GpxRefused(f"{self.name} is nested deeper than any GPX file. It was not read.")
        namespace, _, local = tag.rpartition(" ")
        if self._depth == 1:
            self._take_root(namespace, local)
        elif namespace != self._namespace:
            return
        elif local == "trk" and self._depth == 2:
            self.tracks.append([])
        elif local == "trkseg" and self._depth == 3 and self.tracks:
            self.tracks[-1].append(GPXTrackSegment())
        elif local == "trkpt" and self._depth == 4 and self.tracks and self.tracks[-1]:
            self._take_point(attributes)
        elif local in ("time", "ele") and self._point is not None and self._depth == self._point_depth + 1:
            self._text = []

    def _end(self, tag: str) -> None:
        local = tag.rpartition(" ")[2]
        if self._point is not None and self._text is not None and self._depth == self._point_depth + 1:
            text = "".join(self._text).strip()
            if local == "time":
                self._point.time = self._time(text)
            elif local == "ele" and text:
                self._point.elevation = self._number(text, "height")
            self._text = None
        if self._point is not None and self._depth == self._point_depth:
            self._point = None
        self._depth -= 1

    def _characters(self, text: str) -> None:
        if self._text is not None and sum(map(len, self._text)) < _LONGEST_TEXT:
            self._text.append(text[:_LONGEST_TEXT])

    def _take_root(self, namespace: str, local: str) -> None:
        if local != "gpx" or namespace not in NAMESPACES:
            raise GpxRefused(f"{self.name} is no GPX file: it begins with “{local[:40]}”.")
        self._namespace = namespace

    def _take_point(self, attributes: dict[str, str]) -> None:
        self._points += 1
        if self._points > self.most_points:
            raise GpxRefused(f"{self.name} has more than {self.most_points:,} points. Send fewer rides at once.")
        place = {key: self._number(attributes.get(key, ""), "place") for key in _DECIMAL_DEGREES}
        if any(abs(place[key]) > most for key, most in _DECIMAL_DEGREES.items()):
            raise GpxRefused(f"{self.name} has a point that is nowhere on Earth. Export the ride again.")
        self._point = GPXTrackPoint(place["lat"], place["lon"])
        self._point_depth = self._depth
        self.tracks[-1][-1].points.append(self._point)

    def _number(self, text: str, what: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise GpxRefused(f"{self.name} has a point without a readable {what}: “{text[:20]}”.")
        return value

    def _time(self, text: str) -> dt.datetime:
        """A time as GPX writes it (ISO 8601, in UTC unless it says otherwise)."""
        try:
            time = dt.datetime.fromisoformat(text)
            return time.replace(tzinfo=dt.UTC) if time.tzinfo is None else time.astimezone(dt.UTC)
        except (ValueError, OverflowError):
            raise GpxRefused(f"{self.name} has a time that cannot be read: “{text[:40]}”.") from None
