"""The production server: its size, its command line and environment, and one real start."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from typing import Any

import psutil
import pytest
from django.conf import settings as shop_settings
from django.core.management import CommandError, call_command

from workshop.serving import granian_command, host_names, server_environment, size_for

START_WITHIN_S = 240  # with packages loaded and a database made, also where the machine is busy
ANYWHERE = "0.0.0.0"  # noqa: S104  only named here
SQLITE, POSTGRESQL = "django.db.backends.sqlite3", "django.db.backends.postgresql"


@pytest.mark.parametrize("cores", [1, 2, 16])
def test_sqlite_gets_two_processes_whatever_the_cores(cores: int) -> None:
    assert size_for(SQLITE, cores=cores).workers == 2


def test_postgresql_keeps_below_its_usual_hundred_connections() -> None:
    # max_connections is 100 by default: PostgreSQL documentation, "Connections and Authentication".
    size = size_for(POSTGRESQL, cores=64)
    assert size.workers == 4
    assert size.workers * size.threads < 100


def test_the_number_of_processes_can_be_chosen() -> None:
    assert size_for(SQLITE, workers=1, cores=8).workers == 1


def test_the_command_line_names_address_port_and_size() -> None:
    command = granian_command("127.0.0.1", 8123, size_for(SQLITE, cores=2))
    assert command[:3] == [sys.executable, "-m", "granian"]
    assert command[-1] == "workshop.rsgi:server"
    options = " ".join(command)
    assert "--host 127.0.0.1 --port 8123 --workers 2 --loop asyncio --backpressure 1024" in options
    assert "--ssl" not in options


def test_a_certificate_is_handed_on(tmp_path: Path) -> None:
    command = granian_command(
        ANYWHERE, 443, size_for(SQLITE, cores=2), certificate=tmp_path / "chain.pem", key=tmp_path / "key.pem"
    )
    assert f"--ssl-certificate {tmp_path}/chain.pem --ssl-keyfile {tmp_path}/key.pem" in " ".join(command)


def environment_for(
    address: str, *, http: bool = False, certificate: bool = False, key: bool = False, **given: str
) -> dict[str, str]:
    return server_environment(
        given,
        address,
        http=http,
        certificate=Path("chain.pem") if certificate else None,
        key=Path("key.pem") if key else None,
    )


def test_on_a_loopback_address_a_proxy_is_in_front() -> None:
    found = environment_for("127.0.0.1")
    assert found["BEHIND_PROXY"] == "1"
    assert found["ALLOWED_HOSTS"] == "localhost,127.0.0.1,[::1]"


def test_work_that_could_take_too_much_is_done_apart_unless_the_owner_says_otherwise() -> None:
    assert environment_for("127.0.0.1")["WORK_IN_PROCESSES"] == "1"
    assert environment_for("127.0.0.1", WORK_IN_PROCESSES="0")["WORK_IN_PROCESSES"] == "0"


def test_what_the_owner_has_set_stays() -> None:
    given: dict[str, Any] = {"BEHIND_PROXY": "0", "ALLOWED_HOSTS": "shop.example", "WORK_IN_PROCESSES": "0"}
    assert environment_for("127.0.0.1", **given) == given


def test_plain_http_is_said_to_the_settings() -> None:
    found = environment_for("192.0.2.5", http=True)
    assert found["HTTPS"] == "0"
    assert "BEHIND_PROXY" not in found
    assert "192.0.2.5" in found["ALLOWED_HOSTS"].split(",")


def test_an_open_address_without_protection_is_refused() -> None:
    with pytest.raises(ValueError, match="--certificate and --key for TLS here; BEHIND_PROXY=1"):
        environment_for(ANYWHERE)
    assert environment_for(ANYWHERE, BEHIND_PROXY="1")["BEHIND_PROXY"] == "1"
    assert "HTTPS" not in environment_for(ANYWHERE, certificate=True, key=True)


def test_options_that_do_not_go_together_are_refused() -> None:
    with pytest.raises(ValueError, match="go together"):
        environment_for("127.0.0.1", certificate=True)
    with pytest.raises(ValueError, match="contradict"):
        environment_for("127.0.0.1", certificate=True, key=True, http=True)


def test_an_open_address_answers_to_the_name_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "Bench-PC")
    assert host_names(ANYWHERE) == ["localhost", "127.0.0.1", "[::1]", "bench-pc", "bench-pc.local"]
    assert host_names("2001:db8::5")[-1] == "[2001:db8::5]"
    assert host_names("::1") == host_names("127.0.0.1") == ["localhost", "127.0.0.1", "[::1]"]


@pytest.fixture
def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def serve(port: int, data_dir: Path, *options: str, **environment: str) -> subprocess.Popen[str]:
    dropped = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE", "SECRET_KEY", "HTTPS", "COVERAGE_PROCESS_START"}
    dropped.add("DJANGO_ALLOW_ASYNC_UNSAFE")  # what tests in the browser set for themselves
    kept = {name: value for name, value in os.environ.items() if name not in dropped}
    return subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port), *options],
        cwd=shop_settings.BASE_DIR,
        env=kept | {"DATA_DIR": str(data_dir), "OWN_ENVIRONMENT": "1"} | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def test_one_command_starts_a_new_shop(free_port: int, tmp_path: Path) -> None:
    """From nothing: database, checklists, static files, server; and Ctrl+C ends it."""
    server = serve(free_port, tmp_path / "data", "--http", "--workers", "1")
    page = f"http://127.0.0.1:{free_port}/sign-in/"
    try:
        give_up = time.monotonic() + START_WITHIN_S
        while True:
            try:
                with urllib.request.urlopen(page, timeout=5) as answer:
                    text = answer.read().decode()
                break
            except OSError:  # refused, or slow on a busy machine
                assert server.poll() is None, server.stdout and server.stdout.read()
                assert time.monotonic() < give_up, f"no answer in {START_WITHIN_S} s"
                time.sleep(0.2)
        assert "Sign in" in text
        stylesheet = text.split('rel="stylesheet" href="', 1)[1].split('"', 1)[0]
        with urllib.request.urlopen(f"http://127.0.0.1:{free_port}{stylesheet}", timeout=30) as answer:
            assert "immutable" in answer.headers["Cache-Control"]  # named by its content
    finally:
        server.send_signal(signal.SIGINT)
        output, _ = server.communicate(timeout=60)
    assert server.returncode == 0
    assert re.search(r"Loaded [1-9]\d* checklists\.", output)
    assert "Only for a network you trust" in output
    assert "manage.py open_shop" in output
    for name in ("secret_key", "shop.sqlite3"):
        assert (tmp_path / "data" / name).stat().st_mode & 0o777 == 0o600, name


def test_a_process_that_hangs_does_not_keep_the_server_from_stopping(free_port: int) -> None:
    server = subprocess.Popen(granian_command("127.0.0.1", free_port, size_for(SQLITE, workers=1)))
    try:
        give_up = time.monotonic() + START_WITHIN_S
        while not (workers := psutil.Process(server.pid).children()):
            assert time.monotonic() < give_up, f"no process in {START_WITHIN_S} s"
            time.sleep(0.2)
        (worker,) = workers
        worker.suspend()
        server.terminate()
        server.communicate(timeout=60)
    finally:
        server.kill()
    assert server.returncode == 0
    assert not worker.is_running()


@pytest.mark.parametrize(
    ("options", "environment", "complaint"),
    [
        (("--address", ANYWHERE), {}, "Choose how browsers reach the shop"),
        (("--http",), {"DEBUG": "1"}, "DEBUG is on"),
    ],
)
def test_an_unsafe_start_is_refused(
    free_port: int, tmp_path: Path, options: tuple[str, ...], environment: dict[str, str], complaint: str
) -> None:
    output, _ = (server := serve(free_port, tmp_path, *options, **environment)).communicate(timeout=60)
    assert server.returncode == 1
    assert complaint in output
    assert not (tmp_path / "shop.sqlite3").exists()


def test_a_taken_port_is_named(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        output, _ = serve(port, tmp_path, "--http").communicate(timeout=60)
    assert f"Cannot listen on 127.0.0.1, port {port}" in output


@pytest.mark.parametrize(
    ("options", "environment", "complaint"),
    [
        (("--http",), {}, "--shop-network and --http contradict"),
        (("--certificate", "a.pem", "--key", "b.pem"), {}, "makes its own certificate"),
        ((), {"HTTPS": "0"}, "take HTTPS=0 out of the environment"),
        ((), {"HTTPS": "off"}, "take HTTPS=off out of the environment"),
        ((), {"BEHIND_PROXY": "1"}, "take BEHIND_PROXY=1 out"),
        (("--page-port", "8000"), {}, "need two ports"),
        (("--name", "a b"), {}, "cannot be a name on the network"),
        (("--address", "203.0.113.9"), {}, "203.0.113.9"),
    ],
)
def test_what_does_not_go_with_the_shops_network_is_refused_in_words(
    settings: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    environment: dict[str, str],
    complaint: str,
) -> None:
    settings.DATA_DIR = tmp_path
    for name in ("HTTPS", "BEHIND_PROXY"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    with pytest.raises(CommandError, match=complaint):
        call_command("serve", "--shop-network", "--port", "8000", *options)
    assert list(tmp_path.iterdir()) == []


def test_a_taken_port_of_the_page_is_named_with_what_to_choose(free_port: int, tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        options = ("--shop-network", "--address", "127.0.0.1", "--page-port", str(port))
        output, _ = serve(free_port, tmp_path, *options).communicate(timeout=60)
    assert f"Cannot listen on 127.0.0.1, port {port} for the page: choose another with --page-port" in output
    assert not (tmp_path / "network").exists()
