"""Bodies taken in: whole, short, slow, too much at once; and what they take is given back."""

from __future__ import annotations

import asyncio
import errno
import tempfile
from collections.abc import AsyncIterator

import pytest

from tests.in_a_thread import in_a_thread
from workshop.web import arriving
from workshop.web.arriving import IN_MEMORY_BYTES, LEAST_IN_A_WINDOW_BYTES, Arrivals, NoRoom, StoppedSending

WINDOW_S = 0.2


@pytest.fixture(autouse=True)
def _short_window(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arriving, "WINDOW_S", WINDOW_S)


async def sent(*chunks: bytes, pause_s: float = 0.0) -> AsyncIterator[bytes]:
    for chunk in chunks:
        await asyncio.sleep(pause_s)
        yield chunk


def take_in(arrivals: Arrivals, length: int, *chunks: bytes, pause_s: float = 0.0) -> bytes:
    async def taken() -> bytes:
        body = await arrivals.take_in(sent(*chunks, pause_s=pause_s), length)
        try:
            return body.file.read()
        finally:
            body.close()

    return in_a_thread(lambda: asyncio.run(taken()))


@pytest.mark.parametrize("size", [1, IN_MEMORY_BYTES, IN_MEMORY_BYTES + 1])
def test_a_body_comes_whole_from_memory_or_disk(size: int) -> None:
    halves = b"a" * (size // 2), b"b" * (size - size // 2)
    assert take_in(Arrivals(), size, *halves) == b"".join(halves)


def test_a_body_that_ends_early_is_not_handed_on() -> None:
    with pytest.raises(StoppedSending):
        take_in(Arrivals(), 3, b"ab")


def test_a_slow_body_passes_as_long_as_it_keeps_the_pace() -> None:
    piece = b"x" * LEAST_IN_A_WINDOW_BYTES
    assert take_in(Arrivals(), 4 * len(piece), *[piece] * 4, pause_s=WINDOW_S * 0.6) == piece * 4  # 2.4 windows in all


def test_a_body_below_the_pace_is_given_up() -> None:
    with pytest.raises(StoppedSending):
        take_in(Arrivals(), 8, *[b"x"] * 8, pause_s=WINDOW_S * 0.6)


def test_what_arrives_together_has_a_limit_and_is_given_back() -> None:
    arrivals = Arrivals(most_bytes=10)
    with pytest.raises(NoRoom):
        take_in(arrivals, 11, b"x" * 6, b"x" * 5)
    assert take_in(arrivals, 10, b"x" * 10) == b"x" * 10
    with pytest.raises(StoppedSending):
        take_in(arrivals, 10, b"x" * 9)
    assert take_in(arrivals, 10, b"x" * 10) == b"x" * 10


def test_what_finds_no_room_is_read_to_its_end_and_says_why() -> None:
    def full(_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    read: list[bytes] = []

    async def chunks() -> AsyncIterator[bytes]:
        for chunk in (b"ab", b"cd", b"ef"):
            read.append(chunk)
            yield chunk

    arrivals = Arrivals(most_bytes=6)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(tempfile.SpooledTemporaryFile, "write", lambda _, chunk: full(chunk))
        with pytest.raises(NoRoom) as refused:
            in_a_thread(lambda: asyncio.run(arrivals.take_in(chunks(), 6)))
    assert read == [b"ab", b"cd", b"ef"]
    assert isinstance(refused.value.__cause__, OSError)
    assert take_in(arrivals, 6, b"abcdef") == b"abcdef"
