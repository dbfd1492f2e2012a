"""A network between two programs that a test can cut, silence, or slow down: a TCP proxy on this machine."""

from __future__ import annotations

import contextlib
import select
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_LOOKS_EVERY_S = 0.05
_AT_ONCE = 1 << 16


class Network:
    """Passes bytes on to a port of this machine."""

    def __init__(self, target_port: int) -> None:
        self._target = target_port
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self._over, self._silent = threading.Event(), threading.Event()
        self._delay_s = 0.0
        self._lock = threading.Lock()
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self._threads = [threading.Thread(target=self._accept)]
        self._threads[0].start()
        self.cut = 0

    def slow(self, delay_s: float) -> None:
        """Each piece of data takes so much longer, in both directions."""
        self._delay_s = delay_s

    def silence(self) -> None:
        """Connections stay, and nothing comes through, as when a cable is pulled."""
        self._silent.set()

    def pass_on(self) -> None:
        self._delay_s = 0.0
        self._silent.clear()

    def lead_to(self, target_port: int) -> None:
        """Where whoever connects from now on comes to."""
        self._target = target_port

    def cut_all(self) -> None:
        """Every connection ends at once, whatever is under way."""
        with self._lock:
            pairs, self._pairs = self._pairs, []
        for pair in pairs:
            self.cut += 1
            for end in pair:
                with contextlib.suppress(OSError):
                    end.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self._over.set()
        self.cut_all()
        for thread in self._threads:
            thread.join(timeout=60)
        self._listening.close()

    def _accept(self) -> None:
        while not self._over.is_set():
            if not select.select([self._listening], [], [], _LOOKS_EVERY_S)[0]:
                continue
            near, _ = self._listening.accept()
            try:
                far = socket.create_connection(("127.0.0.1", self._target), timeout=10)
            except OSError:
                near.close()
                continue
            far.settimeout(None)
            with self._lock:
                self._pairs.append((near, far))
            thread = threading.Thread(target=self._carry, args=(near, far))
            self._threads.append(thread)
            thread.start()

    def _carry(self, near: socket.socket, far: socket.socket) -> None:
        to = {near: far, far: near}
        with near, far:
            while not self._over.is_set():
                if self._silent.is_set():
                    self._over.wait(_LOOKS_EVERY_S)
                    if near.fileno() < 0 or self._is_cut(near):
                        return
                    continue
                try:
                    for ready in select.select([near, far], [], [], _LOOKS_EVERY_S)[0]:
                        content = ready.recv(_AT_ONCE)
                        if not content:
                            return
                        self._over.wait(self._delay_s)
                        to[ready].sendall(content)
                except OSError:
                    return

    def _is_cut(self, near: socket.socket) -> bool:
        with self._lock:
            return all(near is not one for one, _ in self._pairs)


@contextmanager
def network_to(port: int) -> Iterator[Network]:
    network = Network(port)
    try:
        yield network
    finally:
        network.close()
