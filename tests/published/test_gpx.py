"""Moving time of GPX 1.1 tracks, against gpxpy 1.6.2, a general-purpose library, on files that it wrote."""

from __future__ import annotations

import datetime as dt
import io
import random
import zipfile

import gpxpy
import gpxpy.gpx
import pytest

from workshop.intervals.gpx import MOST_BYTES, GpxRefused, rides_in
from workshop.intervals.uploads import read_upload

START = dt.datetime(2026, 6, 1, 8, 0, tzinfo=dt.UTC)
NOW = dt.datetime(2026, 11, 1, tzinfo=dt.UTC)
HEAD = '<?xml version="1.0"?><gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="test">'


def written(points: list[gpxpy.gpx.GPXTrackPoint], *more: list[gpxpy.gpx.GPXTrackPoint]) -> bytes:
    """A file as gpxpy writes it, a segment for each list."""
    file, track = gpxpy.gpx.GPX(), gpxpy.gpx.GPXTrack()
    file.tracks.append(track)
    for segment_points in (points, *more):
        track.segments.append(gpxpy.gpx.GPXTrackSegment(points=segment_points))
    return file.to_xml(version="1.1").encode()


def at(
    longitude: float, seconds: float, *, latitude: float = 0.0, elevation: float | None = None
) -> gpxpy.gpx.GPXTrackPoint:
    return gpxpy.gpx.GPXTrackPoint(latitude, longitude, elevation=elevation, time=START + dt.timedelta(seconds=seconds))


def wandering(seed: int, count: int = 900) -> list[gpxpy.gpx.GPXTrackPoint]:
    """A ride that starts, stands, crawls and goes, with height and uneven times."""
    chance = random.Random(seed)
    longitude, latitude, seconds, points = 7.0, 50.0, 0.0, []
    for number in range(count):
        step = chance.choice((0.0, 0.0, 1e-7, 3e-5, 6e-5))
        longitude, latitude = longitude + step, latitude + step / 2
        seconds += chance.choice((1, 1, 1, 2, 30))
        height = None if number % 7 == 0 else 300 + 20 * chance.random()
        points.append(at(longitude, seconds, latitude=latitude, elevation=height))
    return points


def test_constructed_track() -> None:
    """Longitudes 0 .002 .002 .0021 .004 .006 on the equator, a point a minute: 180 of 300 s moving, 60 s stopped."""
    file = written([at(longitude, 60 * n) for n, longitude in enumerate((0, 0.002, 0.002, 0.0021, 0.004, 0.006))])
    (ride,) = rides_in(file, now=NOW)
    assert ride.moving_s == 180
    assert (ride.ended_at - ride.began_at).total_seconds() == 300
    assert ride.began_at == START


@pytest.mark.parametrize("seed", range(6))
def test_to_the_second_as_the_library_reads_its_own_file(seed: int) -> None:
    file = written(wandering(seed), [at(8 + 1e-4 * n, 90_000 + n) for n in range(50)])
    (ride,) = rides_in(file, now=NOW)
    expected = gpxpy.parse(file.decode()).get_moving_data()
    assert expected is not None
    assert ride.moving_s == pytest.approx(expected.moving_time, abs=1e-6)


def test_offsets_and_fractions_of_a_second() -> None:
    file = (
        HEAD + '<trk><trkseg><trkpt lat="0" lon="0"><time>2026-06-01T10:00:00.500+02:00</time></trkpt>'
        '<trkpt lat="0" lon="0.002"><time>2026-06-01T08:01:00.500Z</time></trkpt></trkseg></trk></gpx>'
    )
    (ride,) = rides_in(file.encode(), now=NOW)
    assert ride.moving_s == 60
    assert ride.began_at == dt.datetime(2026, 6, 1, 8, 0, 0, 500_000, tzinfo=dt.UTC)


def test_extensions_with_times_of_their_own_do_not_count() -> None:
    file = (
        HEAD + '<trk><trkseg><trkpt lat="0" lon="0"><time>2026-06-01T08:00:00Z</time><extensions><x:time '
        'xmlns:x="urn:x">1999-01-01T00:00:00Z</x:time></extensions></trkpt>'
        '<trkpt lat="0" lon="0.002"><time>2026-06-01T08:01:00Z</time></trkpt></trkseg></trk></gpx>'
    )
    assert rides_in(file.encode(), now=NOW)[0].moving_s == 60


def test_a_track_of_many_days_is_a_ride_for_each_segment() -> None:
    file = written([at(0.002 * n, 60 * n) for n in range(3)], [at(0.002 * n, 86_400 * 3 + 60 * n) for n in range(4)])
    assert [ride.moving_s for ride in rides_in(file, now=NOW)] == [120, 180]


def test_a_zip_of_many() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for day in range(3):
            archive.writestr(f"rides/{day}.gpx", written([at(0.002 * n, 86_400 * day + 60 * n) for n in range(4)]))
        archive.writestr("rides/broken.gpx", "not xml")
        archive.writestr("readme.txt", "hello")
    packed.seek(0)
    found = read_upload(packed, name="rides.zip", now=NOW)
    assert [ride.moving_s for ride in found.rides] == [180, 180, 180]
    assert len(found.refused) == 1
    assert "broken.gpx" in found.refused[0]


def test_times_that_run_backwards_are_refused() -> None:
    with pytest.raises(GpxRefused, match="backwards"):
        rides_in(written([at(0, 60), at(0.002, 0)]), now=NOW)


def test_entity_expansion_is_refused_before_anything_expands() -> None:
    bomb = (
        '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
        '<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><name>&b;</name></trk></gpx>'
    )
    with pytest.raises(GpxRefused, match="document type"):
        rides_in(bomb.encode(), now=NOW)


def test_an_outside_entity_is_refused() -> None:
    hostile = '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "file:///etc/hostname"><gpx/>'
    with pytest.raises(GpxRefused, match="document type"):
        rides_in(hostile.encode("utf-16"), now=NOW)


@pytest.mark.parametrize(
    ("file", "reason"),
    [
        (b"", "broken"),
        (b"hello", "broken"),
        (b"<kml xmlns='http://www.opengis.net/kml/2.2'/>", "begins with"),
        (b"<?xml version='1.0' encoding='no-such'?><gpx/>", "encoding"),
        (HEAD.encode() + b"</gpx>", "no track with times"),
        (HEAD.encode() + b"<a>" * 60, "nested"),
        (HEAD.encode() + b"<trk><trkseg><trkpt lat='91' lon='0'/></trkseg></trk></gpx>", "nowhere on Earth"),
        (HEAD.encode() + b"<trk><trkseg><trkpt lat='nan' lon='0'/></trkseg></trk></gpx>", "readable place"),
        (
            HEAD.encode() + b"<trk><trkseg><trkpt lat='1' lon='0'><time>yesterday</time></trkpt></trkseg></trk></gpx>",
            "cannot be read",
        ),
        (b" " * (MOST_BYTES + 1), "larger than"),
    ],
)
def test_a_file_that_is_no_track_says_why(file: bytes, reason: str) -> None:
    with pytest.raises(GpxRefused, match=reason):
        rides_in(file, now=NOW)


def test_a_clock_that_was_wrong_is_refused() -> None:
    with pytest.raises(GpxRefused, match="clock"):
        rides_in(written([at(0, 0), at(0.002, 60)]), now=START - dt.timedelta(days=30))


def test_too_many_points_are_refused() -> None:
    with pytest.raises(GpxRefused, match="more than 3 points"):
        rides_in(written([at(0.002 * n, 60 * n) for n in range(4)]), now=NOW, most_points=3)


def test_a_zip_that_lies_about_its_size_is_cut_off() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("big.gpx", b" " * (MOST_BYTES + 10))
    packed.seek(0)
    with pytest.raises(GpxRefused, match="larger than"):
        read_upload(packed, name="big.zip", now=NOW)


@pytest.mark.parametrize("data", [b"PK\x03\x04 no zip at all", b"PK\x05\x06" + b"\0" * 18])
def test_a_broken_or_empty_zip_is_refused(data: bytes) -> None:
    with pytest.raises(GpxRefused):
        read_upload(io.BytesIO(data), name="rides.zip", now=NOW)
