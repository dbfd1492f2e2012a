"""A small proxy in front of the shop: `python -m tests.benchmarks.load_proxy PORT`, which prints its own port.

It does what a proxy that ends TLS has to do for the shop: it says https in X-Forwarded-Proto and the browser's address
last in X-Forwarded-For. With a certificate and its key behind PORT it ends TLS, too. One connection to the shop for
each of a browser's; answers go back as they come. It ends with its standard input.
"""

from __future__ import annotations

import asyncio
import re
import ssl
import sys

PIECE = 64 << 10
_LENGTH = re.compile(rb"^content-length:\s*(\d+)\s*$", re.IGNORECASE | re.MULTILINE)


async def _requests(browser: asyncio.StreamReader, shop: asyncio.StreamWriter, address: str) -> None:
    """Each request with what a proxy adds; a body by its length, for browsers say it."""
    while True:
        head = await browser.readuntil(b"\r\n\r\n")
        length = _LENGTH.search(head.replace(b"\r\n", b"\n"))
        added = f"X-Forwarded-Proto: https\r\nX-Forwarded-For: {address}\r\n\r\n"
        shop.write(head[:-2] + added.encode())
        left = int(length[1]) if length else 0
        while left:
            piece = await browser.read(min(left, PIECE))
            if not piece:
                return
            left -= len(piece)
            shop.write(piece)
            await shop.drain()
        await shop.drain()


async def _answers(shop: asyncio.StreamReader, browser: asyncio.StreamWriter) -> None:
    while piece := await shop.read(PIECE):
        browser.write(piece)
        await browser.drain()


async def _between(browser: asyncio.StreamReader, back: asyncio.StreamWriter, port: int) -> None:
    """Until either side closes."""
    writers = [back]
    try:
        shop, there = await asyncio.open_connection("127.0.0.1", port)
        writers.append(there)
        address = str(back.get_extra_info("peername")[0])
        ways = [asyncio.ensure_future(_requests(browser, there, address)), asyncio.ensure_future(_answers(shop, back))]
        _, waiting = await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        for way in waiting:
            way.cancel()
        await asyncio.gather(*ways, return_exceptions=True)
    except OSError:
        pass
    finally:
        for writer in writers:
            writer.close()


async def main(port: int, certificate: tuple[str, ...]) -> None:
    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await _between(reader, writer, port)

    tls = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH) if certificate else None
    if tls:
        tls.load_cert_chain(*certificate)
    server = await asyncio.start_server(serve, "127.0.0.1", 0, backlog=1024, limit=PIECE, ssl=tls)
    sys.stdout.write(f"{server.sockets[0].getsockname()[1]}\n")
    sys.stdout.flush()
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    server.close()


if __name__ == "__main__":
    asyncio.run(main(int(sys.argv[1]), tuple(sys.argv[2:])))
