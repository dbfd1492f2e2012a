"""Keeping the shop reachable in its network while it is served: certificate, addresses, name, and the page."""

from __future__ import annotations

import ctypes
import datetime as dt
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import zeroconf

from workshop.shop_network import server_certificate
from workshop.shop_network.addresses import hosts_for, local_addresses
from workshop.shop_network.announcing import announced, who_has
from workshop.shop_network.authority import ENDS_SOON, Authority, AuthorityUnusable, load_or_make_authority
from workshop.shop_network.page_files import PageFiles
from workshop.shop_network.page_server import PageServer, page_served
from workshop.shop_network.served import VARIABLE, Served, write_served

LOOKS_EVERY_S = 30.0
_DIES_WITH_PARENT = 1  # PR_SET_PDEATHSIG, prctl(2)
_LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None


def the_time() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


@dataclass(frozen=True)
class AskedFor:
    """What was asked for on the command line."""

    folder: Path  # DATA_DIR/network
    address: str
    port: int
    page_port: int
    name: str


class ShopNetwork:
    """The shop's place in its network, looked after again and again.

    Args:
        say: a line, or several, for the terminal.
    """

    def __init__(
        self, wanted: AskedFor, *, say: Callable[[str], None], now: Callable[[], dt.datetime] = the_time
    ) -> None:
        self.wanted, self._say, self._now = wanted, say, now
        self.authority: Authority = load_or_make_authority(wanted.folder, now=now())
        self.addresses = local_addresses(wanted.address)
        self.named = True  # until somebody else answers to the name
        self._told = ""
        self.prepare()

    @property
    def certificate(self) -> Path:
        return self.wanted.folder / server_certificate.FILE

    @property
    def served(self) -> Served:
        hosts = hosts_for(self.addresses, self.wanted.name)
        shown = [*self.addresses, *([f"{self.wanted.name}.local"] if self.named else [])]
        ports = self.wanted.port, self.wanted.page_port
        return Served(tuple(hosts), tuple(shown or ["127.0.0.1"]), *ports, self.authority.fingerprint)

    def prepare(self) -> str:
        """Certificate and names as they have to be now. Why the certificate was made anew; empty where it stays."""
        served = self.served
        why = server_certificate.renew(self.wanted.folder, self.authority, served.hosts, now=self._now())
        write_served(self.wanted.folder, served)
        return why

    def look(self) -> bool:
        """Look at addresses and certificate; whether the server has to read them anew. A fault is told once."""
        try:
            before = self.addresses
            self.addresses = local_addresses(self.wanted.address)
            self.authority = load_or_make_authority(self.wanted.folder, now=self._now())  # a wrong clock is told here
            why = self.prepare()
        except AuthorityUnusable as fault:
            self._tell_once(str(fault))
            return False
        except OSError as fault:
            self._tell_once(f"The server’s certificate could not be looked after: {fault.strerror or fault}.")
            return False
        self._told = ""
        if why:
            self._say(f"The server’s certificate was made anew: {why}.")
        if before != self.addresses:
            self._say("The addresses of this machine changed.")
        return bool(why)

    def files(self) -> PageFiles:
        return PageFiles(self.authority, self.served, now=self._now)

    def warnings(self) -> list[str]:
        """What the owner should know at the start."""
        found = []
        if not self.addresses:
            found.append("This machine is in no local network yet: tablets reach it once it is. It is looked for.")
        if self.authority.ends - self._now() < ENDS_SOON:
            found.append(
                f"The shop’s authority ends on {self.authority.ends:%-d %B %Y}: every tablet will need a new one."
            )
        return found

    @contextmanager
    def announced(self) -> Iterator[None]:
        """Answer to the name meanwhile, unless another machine does."""
        name, here = self.wanted.name, self.addresses
        with ExitStack() as stack:
            try:
                others = set(who_has(name, interfaces=here)) - {*here, "127.0.0.1"} if here else set()
                self.named = bool(here) and not others
                if others:
                    self._say(
                        f"{name}.local is another machine’s name in this network ({', '.join(sorted(others))}): the "
                        "addresses work; for a name choose another one with --name."
                    )
                elif here:
                    stack.enter_context(announced(name, here, self.wanted.port))
            except (OSError, zeroconf.Error) as fault:
                self.named = False
                self._say(f"{name}.local cannot be announced in this network ({fault}): the addresses work.")
            yield

    def _tell_once(self, words: str) -> None:
        if words != self._told:
            self._told = words
            self._say(words)


def serve_until_stopped(
    network: ShopNetwork,
    command: Sequence[str],
    environment: Mapping[str, str],
    *,
    tell: Callable[[Served], None],
    keep_open: int,
) -> int:
    """Run the server and look after its place in the network until it ends; its exit code.

    Args:
        tell: shows people where the shop is, at the start and whenever that changes.
        keep_open: a descriptor that the server inherits.
    """
    with page_served(network.wanted.address, network.wanted.page_port, network.files()) as page:
        server = subprocess.Popen(  # noqa: S603  our own server
            list(command), env={**environment, VARIABLE: "1"}, pass_fds=(keep_open,), preexec_fn=_end_with_parent
        )
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: server.send_signal(signal.SIGINT))
        while server.poll() is None:
            _until_addresses_change(network, page, server, tell)
        return server.returncode


def _until_addresses_change(
    network: ShopNetwork, page: PageServer, server: subprocess.Popen[Any], tell: Callable[[Served], None]
) -> None:
    addresses = network.addresses
    with network.announced():
        write_served(network.wanted.folder, network.served)
        page.files = network.files()
        tell(network.served)
        while network.addresses == addresses:
            try:
                server.wait(LOOKS_EVERY_S)
                return
            except subprocess.TimeoutExpired:
                if network.look():
                    server.send_signal(signal.SIGHUP)  # its processes start anew, one after the other


def _end_with_parent() -> None:
    """Where the system can: a server whose keeper was killed would go on without its page and its name."""
    if _LIBC is not None:
        _LIBC.prctl(_DIES_WITH_PARENT, signal.SIGTERM)
