"""The body of a request, taken in whole before a thread works on it: who sends slowly keeps nobody else waiting.

Silence is measured by a pace over a window, not by a total: a photo over a bad network may take minutes, a sender that
stops or drips is given up within seconds.
"""

from __future__ import annotations

import asyncio
import tempfile
from collections.abc import AsyncIterable
from contextlib import suppress
from typing import IO

# In each window at least so much of a body arrives, or its end. Common practice for the window, no published source.
WINDOW_S = 10.0
LEAST_IN_A_WINDOW_BYTES = 16 << 10
# A body beyond this waits on the disk, as Django's own larger uploads do; ticks and forms are far smaller.
IN_MEMORY_BYTES = 128 << 10
# What all bodies on the disk may take together in one process: two uploads of the largest size.
ON_DISK_BYTES = 512 << 20


class StoppedSending(Exception):
    """The rest of a body did not come at the least pace, or the sender went away."""


class NoRoom(Exception):
    """Too much is arriving at once; or the disk does not take it, and its error is the cause."""


class Arrivals:
    """The bodies that a process is taking in or works on, and what they take together."""

    def __init__(self, most_bytes: int = ON_DISK_BYTES) -> None:
        self._most_bytes = most_bytes
        self._taken_bytes = 0

    async def take_in(self, chunks: AsyncIterable[bytes], length: int) -> ArrivedBody:
        """A body of `length` bytes, to be closed by the caller. Raises StoppedSending or NoRoom."""
        body = ArrivedBody(self)
        try:
            await _fill(body, chunks, length)
        except BaseException:
            body.close()
            raise
        if body.no_room is not None:
            body.close()
            raise body.no_room
        return body

    def grow(self, size: int) -> None:
        if self._taken_bytes + size > self._most_bytes:
            raise NoRoom
        self._taken_bytes += size

    def shrink(self, size: int) -> None:
        self._taken_bytes -= size


class ArrivedBody:
    """A body in memory, or in a file without a name where it is large."""

    def __init__(self, arrivals: Arrivals) -> None:
        self._arrivals = arrivals
        self.file: IO[bytes] = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)  # noqa: SIM115  close() closes it
        self.size = 0
        self.no_room: NoRoom | None = None

    def add(self, chunk: bytes) -> None:
        """Keep it, until there is no room: who sends the rest still has to hear why, which needs it to be read."""
        if self.no_room is None:
            try:
                self._keep(chunk)
            except NoRoom as refused:
                self.no_room = refused
                self._give_back()

    def rewind(self) -> None:
        """To the start; what was still to be written to the disk is written now."""
        if self.no_room is None:
            try:
                self.file.seek(0)
            except OSError as error:
                self.no_room = _from(error)

    def close(self) -> None:
        self._give_back()

    def _keep(self, chunk: bytes) -> None:
        self._arrivals.grow(len(chunk))
        self.size += len(chunk)
        try:
            self.file.write(chunk)
        except OSError as error:
            raise NoRoom from error

    def _give_back(self) -> None:
        self._arrivals.shrink(self.size)
        self.size = 0
        with suppress(OSError):  # a full disk does not take what was still to be written, and nobody wants it
            self.file.close()


def _from(error: OSError) -> NoRoom:
    refused = NoRoom()
    refused.__cause__ = error
    return refused


async def _fill(body: ArrivedBody, chunks: AsyncIterable[bytes], length: int) -> None:
    clock, in_window, arrived = asyncio.get_running_loop().time, 0, 0
    try:
        async with asyncio.timeout(WINDOW_S) as window:
            async for chunk in chunks:
                body.add(chunk)
                arrived += len(chunk)
                in_window += len(chunk)
                if in_window >= LEAST_IN_A_WINDOW_BYTES:
                    in_window = 0
                    window.reschedule(clock() + WINDOW_S)
    except TimeoutError as error:
        raise StoppedSending from error
    if arrived < length:
        raise StoppedSending
    body.rewind()
