"""How large the production server is, and the command that starts it."""

from __future__ import annotations

import ipaddress
import os
import socket
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from workshop.apart.kinds import PLACES

HOW_TO_PROTECT = (
    "Choose how browsers reach the shop: --certificate and --key for TLS here; BEHIND_PROXY=1 behind a proxy that "
    "does TLS; or --http for plain HTTP on a network you trust."
)

# How long a process may take over its last answers before it is killed; what it acknowledged is in the database.
STOPS_WITHIN_S = 10
# How long a new process may load, after SIGHUP, before the one in whose place it comes is stopped.
LOADS_WITHIN_S = 20
# How long a connection may stay silent before its next request is there in full; a browser that is late opens another.
SILENT_FOR_MS = 5_000
# Connections a process keeps open at once. A browser opens six, most of them idle; an open one costs no thread.
CONNECTIONS = 1_024


@dataclass(frozen=True)
class Size:
    """Processes, threads in each (the requests it works on at once), and connections each keeps open meanwhile."""

    workers: int
    threads: int
    connections: int = CONNECTIONS


def usable_cores() -> int:
    """Cores this process may use; a container often has fewer than its machine."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def size_for(engine: str, *, workers: int | None = None, cores: int | None = None) -> Size:
    """A size that suits the database engine and the cores (by default, those there are to use).

    SQLite has one writer at a time: two processes keep pages coming while one of them lays out a PDF, and more would
    only queue for the same lock. What is done apart keeps a thread waiting, so there are as many more as may wait, and
    those who want a page never do. PostgreSQL takes a connection for each thread, and one for a process: 4 x 17
    stays below its usual 100.
    """
    most, threads = (2, 4) if engine.endswith("sqlite3") else (4, 6)
    return Size(workers or max(2, min(cores or usable_cores(), most)), threads + PLACES)


def granian_command(
    address: str, port: int, size: Size, *, certificate: Path | None = None, key: Path | None = None
) -> list[str]:
    """The command line of the server; its first word is the program."""
    command = [sys.executable, "-m", "granian", "--interface", "rsgi", "--host", address, "--port", str(port)]
    command += ["--workers", str(size.workers), "--loop", "asyncio"]
    # Granian's backpressure counts open connections, silent ones too; the threads in rsgi.py are what limits the work.
    command += ["--backpressure", str(size.connections), "--http1-header-read-timeout", str(SILENT_FOR_MS)]
    # HTTP/1 only: a server that also offers HTTP/2 waits without end for the first bytes that tell which it is.
    command += ["--http", "1", "--no-ws", "--respawn-failed-workers"]
    command += ["--workers-kill-timeout", str(STOPS_WITHIN_S)]
    command += ["--respawn-interval", str(LOADS_WITHIN_S), "--log-level", "warning"]
    if certificate and key:
        command += ["--ssl-certificate", str(certificate.resolve()), "--ssl-keyfile", str(key.resolve())]
        command += ["--ssl-protocol-min", "tls1.2"]  # workshop tablets live long
    return [*command, "workshop.rsgi:server"]


def server_environment(
    environment: Mapping[str, str], address: str, *, http: bool, certificate: Path | None, key: Path | None
) -> dict[str, str]:
    """The environment of the server, whose settings read it anew. ValueError says what does not go together."""
    if bool(certificate) != bool(key):
        raise ValueError("--certificate and --key go together.")
    if http and certificate:
        raise ValueError("--http and --certificate contradict each other.")
    server = dict(environment)
    server.setdefault("ALLOWED_HOSTS", ",".join(host_names(address)))
    server.setdefault("WORK_IN_PROCESSES", "1")
    if http:
        server["HTTPS"] = "0"
    elif not certificate and "BEHIND_PROXY" not in environment:
        if not is_loopback(address):
            raise ValueError(HOW_TO_PROTECT)
        server["BEHIND_PROXY"] = "1"  # only a proxy on this machine comes in by a loopback address
    return server


def is_loopback(address: str) -> bool:
    """Whether only this machine can reach a server on this address."""
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return address == "localhost"


def host_names(address: str) -> list[str]:
    """Names under which browsers may ask for the shop when ALLOWED_HOSTS does not say."""
    names = ["localhost", "127.0.0.1", "[::1]"]
    if is_loopback(address):
        return names
    machine = socket.gethostname().lower()
    names += [machine, f"{machine}.local"]
    if address not in {"0.0.0.0", "::"}:  # noqa: S104  only compared
        names.append(f"[{address}]" if ":" in address else address)
    return list(dict.fromkeys(names))
