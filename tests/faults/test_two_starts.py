"""Two starts of one shop at once: one serves it, the other says so and changes nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.conf import settings as shop_settings

from tests.faults.served import START_WITHIN_S, Place, free_port, make_shop, served
from tests.faults.table import Tell
from workshop.running.preflight.findings import Exit

pytestmark = pytest.mark.any_database  # its database is its own


def run(folder: Path, *command: str, **environment: str) -> tuple[int, str]:
    """A command of the shop in that folder, to its end: exit code, and what it said."""
    dropped = {"DATABASE_URL", "DJANGO_SETTINGS_MODULE", "SECRET_KEY", "COVERAGE_PROCESS_START"}
    kept = {name: value for name, value in os.environ.items() if name not in dropped}
    done = subprocess.run(
        [sys.executable, "manage.py", *command],
        cwd=shop_settings.BASE_DIR,
        env=kept | {"DATA_DIR": str(folder), "OWN_ENVIRONMENT": "1"} | environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=START_WITHIN_S,
    )
    return done.returncode, done.stdout + done.stderr


@pytest.mark.django_db
def test_the_second_of_two_starts_says_who_has_the_shop(tmp_path: Path, told: Tell) -> None:
    place = Place(tmp_path / "shop")
    staff = make_shop(place)
    with served(place) as server:
        code, said = run(place.folder, "serve", "--http", "--port", str(free_port()))
        assert code == Exit.IN_USE, said
        assert f"serves it on 127.0.0.1, port {server.port}" in said
        assert "Traceback" not in said
        code, upgrading = run(place.folder, "upgrade")
        assert code == Exit.IN_USE, upgrading
        assert server.ask("GET", "/bench/", staff.mechanic)[0] == 200
    told("a second start while the shop is served", injected=2, words=said)


def test_an_empty_key_is_said_and_not_taken(tmp_path: Path, told: Tell) -> None:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "secret_key").write_text("\n")
    code, said = run(folder, "check_shop")
    assert code == 1
    assert said.startswith("The secret key is empty")
    assert len(said.splitlines()) == 1
    assert [path.name for path in folder.iterdir()] == ["secret_key"]
    told("an empty secret key", words=said)


@pytest.mark.long
def test_of_two_starts_at_the_same_moment_one_serves(tmp_path: Path, told: Tell) -> None:
    folder, ports = tmp_path / "shop", (free_port(), free_port())
    folder.mkdir()
    started = [
        subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--http", "--port", str(port)],
            cwd=shop_settings.BASE_DIR,
            env={
                **os.environ,
                "DATA_DIR": str(folder),
                "OWN_ENVIRONMENT": "1",
                "DATABASE_URL": f"sqlite:///{folder}/shop.sqlite3",
            },
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        for port in ports
    ]
    try:
        give_up = time.monotonic() + START_WITHIN_S
        while all(one.poll() is None for one in started):
            assert time.monotonic() < give_up, "both go on"
            time.sleep(0.1)
        (ended,) = [one for one in started if one.poll() is not None]
        said, _ = ended.communicate(timeout=60)
        assert ended.returncode == Exit.IN_USE, said
        assert "in use" in said
    finally:
        for one in started:
            if one.poll() is None:
                os.killpg(one.pid, 9)
            one.wait()
            if one.stdout:
                one.stdout.close()
    told("two starts at the same moment", injected=2, words=said)
